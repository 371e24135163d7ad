"""Advice in numbers, in a closed loop with a bath of the simulators' physics."""

import math
from collections.abc import Callable, Sequence

import pytest

from benchmarks.outcome_jobs import Bench, Job, draw
from benchmarks.outcome_policies import BEGAN_UTC_NS
from monitor.export.event_lines import EventLines
from monitor.model.alarm import AlarmName, Change
from monitor.model.event import Prompt, PromptName, standing_prompt
from monitor.model.fittings import NO_FITTINGS, Fittings
from monitor.model.fittings import Job as Work
from monitor.model.run import LimitKind, RunFacts
from monitor.model.sample import Gap, Sample
from monitor.model.step import JobStep
from monitor.model.volts_advice import VoltsAdvice
from monitor.watch.vigil import Verdict, Vigil

RISING = ("warming", 5001)
"""A bath of a few litres that cuts out after some minutes where nobody does anything."""


def facts(job: Job, kind: LimitKind = LimitKind.TRIPS) -> RunFacts:
    limit = job.plate.limit_amps
    return RunFacts("s", "", limit, kind, bath_litres=job.told_litres, poll_s=job.poll_s)


def watch(
    vigil: Vigil,
    job: Job,
    seconds: float = 1500.0,
    act: Callable[[Bench, VoltsAdvice], None] = lambda bench, advice: None,
    silent: Sequence[float] = (math.inf, math.inf),
) -> list[Verdict]:
    """The verdicts until the strip is done, the supply cuts out or the time is over."""
    bench, verdicts = Bench(job), []
    for seq in range(round(seconds / job.poll_s)):
        bench.step()
        bench.step()
        if bench.has_cut_out or bench.cell.is_stripped:
            break
        t_ns = round(bench.t_s * 1e9)
        utc_ns = BEGAN_UTC_NS + t_ns
        row: Sample | Gap = Sample(seq, t_ns, utc_ns, 0, *bench.measured())
        if silent[0] <= bench.t_s < silent[1]:
            row = Gap(seq, t_ns, utc_ns, "no answer")
        verdicts.append(vigil.update(row))
        advice = verdicts[-1].advice
        if advice is not None:
            act(bench, advice)
    return verdicts


def advices(verdicts: list[Verdict]) -> list[VoltsAdvice]:
    return [one.advice for one in verdicts if one.advice is not None]


def test_a_rising_bath_is_advised_minutes_before_with_number_and_time() -> None:
    job = draw(*RISING)
    verdicts = watch(Vigil(facts(job)), job)
    first = advices(verdicts)[0]
    assert first.volts is not None
    assert first.act_within_s is not None
    assert job.lowest_volts <= first.volts < job.volts
    assert round(first.volts * 10.0) == pytest.approx(first.volts * 10.0)
    trip_s = verdicts[-1].estimate.t_s
    assert trip_s - first.t_s > 240.0
    assert first.t_s + first.act_within_s < trip_s
    prompts = [prompt for one in verdicts for prompt in one.prompts]
    told = [prompt for prompt in prompts if prompt.prompt == PromptName.TURN_DOWN]
    assert told[0].message == first.message
    assert f"{first.volts:g} V" in first.message
    assert first.message.startswith(("By ", "Now"))


def test_the_alarm_names_the_same_volts() -> None:
    job = draw(*RISING)
    verdicts = watch(Vigil(facts(job)), job)
    raised = [
        (event, n)
        for n, one in enumerate(verdicts)
        for event in one.events
        if event.alarm == AlarmName.TRIP_EXPECTED and event.change is Change.RAISED
    ]
    event, place = raised[0]
    last = [one for one in advices(verdicts[: place + 1]) if one.volts is not None][-1]
    assert event.action.startswith("Turn down to ")
    named = float(event.action.removeprefix("Turn down to ").removesuffix(" V."))
    assert named == pytest.approx(last.volts, abs=0.3)


def test_whoever_follows_it_ends_the_strip_and_the_advice_ends() -> None:
    job = draw(*RISING)
    vigil = Vigil(facts(job))

    def act(bench: Bench, advice: VoltsAdvice) -> None:
        if advice.volts is not None:
            bench.supply.volts_set = advice.volts

    verdicts = watch(vigil, job, act=act)
    told = advices(verdicts)
    assert told[1].volts is None
    assert told[1].t_s - told[0].t_s < 10.0
    assert not any(e.alarm == AlarmName.TRIPPED for one in verdicts for e in one.events)
    prompts = [prompt for one in verdicts for prompt in one.prompts]
    place = next(n for n, one in enumerate(prompts) if one.prompt == PromptName.TURNED_DOWN)
    assert standing_prompt(prompts[: place + 1]) is None or (
        standing_prompt(prompts[: place + 1]) != prompts[place - 1]
    )


def test_it_stays_in_the_window_and_says_so_where_that_has_no_room() -> None:
    job = draw(*RISING)
    low = job.volts - 0.1
    fittings = Fittings(steps=(JobStep("strip", (low, 12.0)),))
    told = advices(watch(Vigil(facts(job), fittings=fittings), job))
    numbers = [one.volts for one in told if one.volts is not None]
    assert numbers
    assert min(numbers) >= low - 1e-9
    assert any("some minutes only" in one.message for one in told)


def test_the_density_that_the_part_stands_holds_it() -> None:
    job = draw(*RISING)
    most = 0.8 * job.plate.limit_amps
    work = Work(area_dm2=most, most_amps_per_dm2=1.0)
    thin = advices(watch(Vigil(facts(job), fittings=Fittings(job=work)), job))
    plain = advices(watch(Vigil(facts(job)), job))
    assert thin[0].volts is not None
    assert plain[0].volts is not None
    assert thin[-1].volts is None or thin[-1].volts < (plain[-1].volts or math.inf)


def test_a_supply_that_holds_its_current_needs_no_advice() -> None:
    job = draw(*RISING)
    vigil = Vigil(facts(job, LimitKind.HOLDS), fittings=NO_FITTINGS)
    assert advices(watch(vigil, job)) == []


@pytest.mark.parametrize("family", ["quiet", "settles high", "quiet swab"])
def test_a_quiet_job_hears_nothing(family: str) -> None:
    job = draw(family, 5000)
    assert advices(watch(Vigil(facts(job)), job)) == []


def test_a_silence_and_a_table_without_a_clock_change_little() -> None:
    job = draw(*RISING)
    trips_s = watch(Vigil(facts(job)), job)[-1].estimate.t_s
    told = advices(watch(Vigil(facts(job)), job, silent=(60.0, 100.0)))
    assert trips_s - told[0].t_s > 240.0


def test_the_charge_that_is_told_gives_the_time_of_the_finish() -> None:
    job = draw(*RISING)
    vigil = Vigil(facts(job))
    vigil.expect(amp_hours=job.amp_hours)
    told = advices(watch(vigil, job))
    first = told[0]
    assert first.finish_in_s is not None
    assert "before the strip is done" in first.message
    assert all(one.holds_for_s is None for one in told)


def test_its_line_is_the_contract() -> None:
    job = draw(*RISING)
    vigil, lines = Vigil(facts(job)), EventLines(None)
    verdict = next(one for one in watch(vigil, job) if one.advice is not None)
    row = Sample(0, verdict.estimate.t_ns, 0, 0, 7.0, 5.0)
    told = list(lines.lines(row, verdict))
    (advice,) = [line for line in told if line["kind"] == "advice"]
    assert list(advice) == [
        "kind", "t_s", "volts", "act_within_s", "finish_in_s", "pause_s", "message",
    ]  # fmt: skip
    assert not any(line.get("prompt") == "turn-down" for line in told)


def test_an_advice_that_is_over_asks_for_nothing() -> None:
    prompts = [
        Prompt("look", 1, 0, ""),
        Prompt("turn-down", 2, 0, ""),
        Prompt("turned-down", 3, 0, ""),
    ]
    assert standing_prompt(prompts) == prompts[0]
    assert standing_prompt(prompts[:2]) == prompts[1]
