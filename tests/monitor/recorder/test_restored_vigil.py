"""A run that is taken up again is watched as if the recorder had never stopped."""

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import pytest

from monitor.model.alarm import AlarmEvent
from monitor.model.card import JobCard
from monitor.model.card_text import card_as_text
from monitor.model.event import Prompt, PromptName
from monitor.model.explanation import Explanation
from monitor.model.fittings import Conductor, Fittings
from monitor.model.request import RequestKind
from monitor.model.run import RunFacts
from monitor.model.sample import Sample
from monitor.recorder.open_run import OpenRun
from monitor.recorder.restored_vigil import restored_vigil, watch_again
from monitor.store.batch import Entry
from monitor.store.reader import open_store
from monitor.store.requests import RequestBox
from monitor.watch.vigil import Verdict, Vigil
from simulators.rig import Rig
from simulators.scene import load_scene
from tests.clock import HandClock
from tests.monitor.analysis.traces import gap, sample
from tests.monitor.store.bench import a_store

POLL_S = 0.5
FACTS = RunFacts("bench-2", "", 40.0, poll_s=POLL_S, bath="north tank", bath_litres=9.0)
FITTINGS = Fittings((Conductor("lead", 60.0, 300.0),))


@lru_cache
def rows() -> tuple[Sample, ...]:
    """The tank that warms up to its trip, is reset and stripped to the end."""
    scene = load_scene("tank-warms-to-trip")
    rig, found = Rig(scene, 1), []
    for n in range(int(scene.duration_s / POLL_S)):
        rig.advance_to(n * POLL_S)
        point = rig.measured()
        found.append(sample(n, n * POLL_S, point.volts, point.amps, point.celsius))
    return tuple(found)


def fresh() -> Vigil:
    return Vigil(FACTS, fittings=FITTINGS)


@lru_cache
def uninterrupted() -> tuple[Verdict, ...]:
    vigil = fresh()
    return tuple(vigil.update(row) for row in rows())


def entries(run: int, upto: int) -> list[Entry]:
    """What a recorder stores of the first rows."""
    stored: list[Entry] = []
    for row, verdict in zip(rows()[:upto], uninterrupted(), strict=False):
        stored += [(run, row), (run, verdict.estimate)]
        stored += [(run, event) for event in verdict.events]
        stored += [(run, prompt) for prompt in verdict.prompts]
        if verdict.explanation is not None:
            stored.append((run, verdict.explanation))
    return stored


def begun(path: Path, stopped_s: float, complaints: list[str]) -> Vigil:
    """Store the run as far as it came, and take it up with a fresh vigil."""
    clock, upto = HandClock(), int(stopped_s / POLL_S)
    with a_store(path) as writer:
        run = writer.begin_run(FACTS, clock=clock, program="bathvigil test").run
        stored = entries(run, upto)
        writer.write(stored)
        clock.pass_s(stopped_s)
        row = writer.unfinished_runs(FACTS.supply)[0]
        segment = writer.resume_run(run, clock=clock)
    events = tuple(one for _, one in stored if isinstance(one, AlarmEvent))
    return restored_vigil(path, OpenRun(row, segment, clock, events), fresh, complaints.append)


def told(verdicts: list[Verdict]) -> tuple[list[AlarmEvent], list[Prompt], list[Explanation]]:
    return (
        [event for verdict in verdicts for event in verdict.events],
        [prompt for verdict in verdicts for prompt in verdict.prompts],
        [verdict.explanation for verdict in verdicts if verdict.explanation is not None],
    )


@pytest.mark.parametrize("stopped_s", [400.0, 760.0, 1152.0])
def test_the_rest_of_the_run_is_told_as_without_the_interruption(
    stopped_s: float, tmp_path: Path
) -> None:
    """In the rise, while it cools down, and between "looks finished" and the switch."""
    complaints: list[str] = []
    vigil = begun(tmp_path / "runs.db", stopped_s, complaints)
    place = int(stopped_s / POLL_S)
    later = [vigil.update(row) for row in rows()[place:]]
    events, prompts, explanations = told(later)
    would_be_events, would_be_prompts, would_be = told(list(uninterrupted()[place:]))
    assert complaints == []
    assert (events, prompts) == (would_be_events, would_be_prompts)
    assert [(one.why, one.seq) for one in explanations] == [(one.why, one.seq) for one in would_be]
    # Heat, charge, temperature, what was learned: everything, to the last digit.
    assert [one.estimate for one in later] == [one.estimate for one in uninterrupted()[place:]]


def test_the_recorders_own_silence_is_not_the_supplys(tmp_path: Path) -> None:
    vigil = begun(tmp_path / "runs.db", 400.0, [])
    later = [vigil.update(gap(800 + n, 400.0 + n * POLL_S)) for n in range(10)]
    assert told(later) == ([], [], [])


def test_the_order_of_events_goes_over_the_interruption_and_tells_of_it(tmp_path: Path) -> None:
    vigil = begun(tmp_path / "runs.db", 760.0, [])
    explanations = told([vigil.update(row) for row in rows()[1520:]])[2]
    words = [happening.words for happening in explanations[-1].order]
    assert words.index("cut out") < words.index("the recorder went on after an interruption")
    assert "on again after 3:31" in words


def test_a_confirmed_hold_goes_on(tmp_path: Path) -> None:
    path, clock = tmp_path / "runs.db", HandClock()
    with a_store(path) as writer:
        run = writer.begin_run(FACTS, clock=clock, program="bathvigil test").run
        writer.write(entries(run, 2300))
    clock.utc_now_ns = rows()[2298].utc_ns
    RequestBox(path, clock).ask(run, RequestKind.NEXT_STEP, "strip-looks-finished", "Ana")
    with a_store(path) as writer:
        (request,) = writer.take_requests(run)
        writer.answer_request(request, "taken")
    vigil = fresh()
    with open_store(path) as begun:
        watch_again(begun.run(run), vigil)
    later = [
        vigil.update(replace(rows()[2290], seq=n, t_ns=n * 10**9 // 2)) for n in range(2300, 2360)
    ]
    assert [p.prompt for p in told(later)[1]] == ["hold-done"]
    assert told(later)[1][0].t_s == pytest.approx(1149.5 + 20.0, abs=1.0)


def test_a_card_that_came_meanwhile_is_in_force_again(tmp_path: Path) -> None:
    path, clock = tmp_path / "runs.db", HandClock()
    with a_store(path) as writer:
        run = writer.begin_run(FACTS, clock=clock, program="bathvigil test").run
        writer.write(entries(run, 100))
    clock.utc_now_ns = rows()[50].utc_ns
    RequestBox(path, clock).ask(run, RequestKind.JOB_CARD, card_as_text(JobCard(area_dm2=3.5)))
    with a_store(path) as writer:
        (request,) = writer.take_requests(run)
        writer.answer_request(request, "taken")
    vigil = fresh()
    with open_store(path) as begun:
        watch_again(begun.run(run), vigil)
    assert vigil.fittings.job.area_dm2 == 3.5


def test_of_a_very_long_run_the_charge_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("monitor.recorder.restored_vigil.MOST_ROWS", 300)
    vigil = begun(tmp_path / "runs.db", 700.0, [])
    charge = vigil.update(rows()[1400]).estimate.charge
    would_be = uninterrupted()[1400].estimate.charge
    assert charge.amp_hours == pytest.approx(would_be.amp_hours, abs=1e-6)
    assert charge.coverage == pytest.approx(would_be.coverage, abs=1e-3)


def test_rows_that_break_the_watch_do_not_keep_the_run_from_going_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(stored: object, vigil: Vigil) -> None:
        vigil.next_step()
        raise RuntimeError("boom")

    monkeypatch.setattr("monitor.recorder.restored_vigil.watch_again", broken)
    complaints: list[str] = []
    vigil = begun(tmp_path / "runs.db", 400.0, complaints)
    assert complaints == ["what was learned of run 1 is lost: boom"]
    assert vigil.update(rows()[800]).estimate.charge.amp_hours == 0.0


@pytest.mark.parametrize("is_broken", [False, True])
def test_what_a_run_was_told_at_its_start_is_not_told_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, is_broken: bool
) -> None:
    def broken(stored: object, vigil: Vigil) -> None:
        raise RuntimeError("boom")

    if is_broken:
        monkeypatch.setattr("monitor.recorder.restored_vigil.watch_again", broken)
    vigil = begun(tmp_path / "runs.db", 400.0, [])
    at_start = {one.prompt for verdict in uninterrupted()[:60] for one in verdict.prompts}
    assert {PromptName.TIME_LIMIT} <= at_start
    after = [one.prompt for row in rows()[800:860] for one in vigil.update(row).prompts]
    assert not at_start & set(after)
