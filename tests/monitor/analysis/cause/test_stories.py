"""Whole scenes of the simulator: what stopped them, when they looked finished, what was asked."""

import json
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import pytest

from drivers.reading import Mode
from monitor.analysis.cause.recollection import HAPPENINGS
from monitor.commands.main import run
from monitor.model.alarm import AlarmEvent, Change, Priority
from monitor.model.estimate import Estimate
from monitor.model.event import Prompt
from monitor.model.explanation import Cause, Explanation
from monitor.model.run import LimitKind, RunFacts
from monitor.model.sample import Gap, Sample
from monitor.store.writer import StoreWriter
from monitor.watch.vigil import Vigil
from simulators.rig import Rig
from simulators.scene import Event, Scene, load_scene
from tests.clock import HandClock
from tests.monitor.analysis.traces import gap, sample

POLL_S = 0.5


class Story:
    """One scene watched: its prompts, explanations and alarms, and what was true."""

    def __init__(self, scene: Scene, seed: int, says_mode: bool = False) -> None:
        rig = Rig(scene, seed)
        facts = RunFacts(
            "bench", "", scene.supply.limit_amps, LimitKind(scene.supply.at_limit), poll_s=POLL_S
        )
        vigil = Vigil(facts)
        self.prompts: list[Prompt] = []
        self.explanations: list[Explanation] = []
        self.events: list[AlarmEvent] = []
        self.estimates: list[Estimate] = []
        self.rows: list[Sample] = []
        self.stripped_s: float | None = None
        for n in range(int(scene.duration_s / POLL_S)):
            rig.advance_to(n * POLL_S)
            point = rig.measured()
            mode = MODES[point.mode.value] if says_mode else Mode.UNKNOWN
            row = sample(n, n * POLL_S, point.volts, point.amps, point.celsius, mode)
            verdict = vigil.update(row)
            self.rows.append(row)
            self.estimates.append(verdict.estimate)
            self.prompts += verdict.prompts
            self.events += verdict.events
            if verdict.explanation is not None:
                self.explanations.append(verdict.explanation)
            if self.stripped_s is None and rig.cell.is_stripped:
                self.stripped_s = n * POLL_S

    def asked(self, prompt: str) -> list[float]:
        return [one.t_s for one in self.prompts if one.prompt == prompt]

    def raised(self, alarm: str) -> list[AlarmEvent]:
        return [e for e in self.events if e.alarm == alarm and e.change is Change.RAISED]


MODES = {mode.word: mode for mode in Mode}


@lru_cache
def story(name: str, seed: int = 1) -> Story:
    return Story(load_scene(name), seed)


@pytest.mark.parametrize("name", ["quiet-strip", "tank-warms-to-trip"])
def test_a_simulated_strip_looks_finished_when_it_is(name: str) -> None:
    told = story(name)
    assert told.stripped_s is not None
    (asked_s,) = told.asked("strip-looks-finished")
    assert abs(asked_s - told.stripped_s) <= 20.0
    (wetting_s,) = told.asked("check-wetting")
    assert asked_s < wetting_s


@pytest.mark.parametrize("seed", [2, 3, 4, 5])
def test_another_day_of_the_quiet_strip_looks_finished_too(seed: int) -> None:
    told = story("quiet-strip", seed)
    assert told.stripped_s is not None
    (asked_s,) = told.asked("strip-looks-finished")
    assert abs(asked_s - told.stripped_s) <= 20.0


@pytest.mark.parametrize(
    "name", ["sudden-short", "supply-limits", "supply-overheats", "swab-warms-to-trip"]
)
def test_no_scene_looks_finished_before_it_is(name: str) -> None:
    told = story(name)
    for asked_s in told.asked("strip-looks-finished"):
        assert told.stripped_s is not None
        assert asked_s > told.stripped_s - 20.0


@pytest.mark.parametrize("name", ["quiet-strip", "tank-warms-to-trip", "swab-warms-to-trip"])
def test_a_scene_without_a_part_is_never_finished(name: str) -> None:
    scene = load_scene(name)
    bare = replace(
        scene,
        part=None,
        duration_s=1500.0,
        supply=replace(scene.supply, limit_amps=3 * scene.supply.limit_amps, amps_max=120.0),
        events=tuple(event for event in scene.events if event.at_s is not None),
    )
    assert Story(bare, 21).asked("strip-looks-finished") == []


def climbing_on(seed: int) -> Story:
    """The quiet strip in a small bath near its limit, left on for ten minutes after its end."""
    scene = load_scene("quiet-strip")
    left_on = tuple(event for event in scene.events if event.at_s is not None)
    return Story(
        replace(
            scene,
            events=left_on,
            duration_s=1000.0,
            bath=replace(scene.bath, litres=5.0),
            supply=replace(scene.supply, limit_amps=5.9),
        ),
        seed,
    )


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_climb_after_a_finish_raises_nothing(seed: int) -> None:
    told = climbing_on(seed)
    (asked_s,) = told.asked("strip-looks-finished")
    assert told.raised("trip-expected") == []
    after = [one for one in told.estimates if one.t_s >= asked_s]
    # From the end on the forecast begins anew, and says so; what it then sees is the climb.
    assert after[0].forecast.why == "strip looks finished"
    assert after[0].siemens_per_minute is None
    assert 10.0 <= next(one.t_s for one in after if one.siemens_per_minute) - asked_s <= 60.0
    assert after[-1].forecast.why != "strip looks finished"
    assert story("quiet-strip").raised("trip-expected") == []


def test_a_replay_of_the_stored_run_tells_the_same_of_the_finish_and_after(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told, path = climbing_on(1), tmp_path / "runs.db"
    facts = RunFacts("bench", "", 5.9, poll_s=POLL_S)
    with StoreWriter(path, clock=HandClock()) as writer:
        number = writer.begin_run(facts, clock=HandClock(), program="bathvigil test").run
        writer.write([(number, row) for row in told.rows])
        writer.end_run(number, told.rows[-1].t_ns, "ended by the operator")
    line = ["replay", "--run", str(number), "--store", str(path), "--json", "--forecast-every", "0"]
    assert run(line) == 0
    lines = [json.loads(one) for one in capsys.readouterr().out.splitlines()]
    prompts = [(one["prompt"], one["t_s"]) for one in lines if one["kind"] == "prompt"]
    assert prompts == [(one.prompt, one.t_s) for one in told.prompts]
    assert [one["alarm"] for one in lines if one["kind"] == "alarm"] == []
    forecasts = [one["why"] for one in lines if one["kind"] == "forecast"]
    assert forecasts == [one.forecast.why for one in told.estimates]
    assert forecasts.count("strip looks finished") > 10


def test_a_tank_that_warmed_up_to_its_trip_is_a_slow_rise() -> None:
    told = Story(load_scene("tank-warms-to-trip"), 1, says_mode=True)
    first = told.explanations[0]
    assert first.cause is Cause.SLOW_RISE
    assert "at the same volts" in first.sentence
    words = [happening.words for happening in first.order]
    assert words[0] == "output on"
    assert words[-1] == "cut out"
    (tripped,) = told.raised("tripped")
    assert first.why in tripped.message
    # The end is the operator's: no trip, and told as none.
    assert told.explanations[-1].cause is Cause.OPERATOR


def test_a_short_is_said_within_two_samples_and_is_one_alarm_after_the_cut_out() -> None:
    told = Story(load_scene("sudden-short"), 1, says_mode=True)
    (tripped,) = told.raised("tripped")
    # The rack swings at 245 s and the supply is out 0.3 s later.
    assert 245.0 <= tripped.t_s <= 245.0 + 2 * POLL_S
    shorts = told.raised("short")
    assert all(245.0 <= one.t_s <= 245.0 + 2 * POLL_S for one in shorts)
    first = told.explanations[0]
    assert first.cause in (Cause.SHORT, Cause.UNSEEN)
    assert "short" in tripped.message
    returned = [e for e in told.events if e.alarm == "short" and e.change is Change.RETURNED]
    assert len(returned) == len(shorts)


def test_a_thermal_cut_out_is_heat_and_a_series_is_told_with_its_cooling() -> None:
    told = story("supply-overheats")
    cut = [one for one in told.explanations if one.cause is Cause.HEAT]
    assert len(cut) >= 2
    assert cut[0].series == ""
    assert "second cut-out in" in cut[1].series
    # It came back by itself after about a minute and a half.
    assert "last time it took 1:3" in cut[1].series
    assert cut[1].series in told.raised("tripped")[1].message


def test_a_swab_that_trips_again_with_the_same_bath_is_told_so() -> None:
    told = story("swab-warms-to-trip")
    causes = [one.cause for one in told.explanations]
    assert causes[:2] == [Cause.SLOW_RISE, Cause.SLOW_RISE]
    assert "second cut-out" in told.explanations[1].series


def switched_off(at_s: float, knob_s: float = 0.0, seed: int = 1) -> Story:
    """The tank's rise, ended by the operator: by the switch, or by the knob of the volts first."""
    scene = load_scene("tank-warms-to-trip")
    kept = [event for event in scene.events if event.at_s is not None]
    turns = [
        Event("set-volts", at_s=at_s + n * 0.1, volts=9.0 * (1.0 - (n + 1) * 0.1 / knob_s))
        for n in range(round(knob_s / 0.1))
    ]
    off = Event("output-off", at_s=at_s + knob_s)
    return Story(replace(scene, events=(*kept, *turns, off), duration_s=at_s + knob_s + 10.0), seed)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_warning_that_was_heeded_is_not_called_a_cut_out(seed: int) -> None:
    told = switched_off(620.0, seed=seed)
    (tripped,) = told.raised("tripped")
    assert tripped.priority is Priority.HIGH
    assert tripped.message.startswith("the output went off near the limit of 40 A: not seen, at ")
    assert "it cut out or was switched off; the supply does not say which" in tripped.message
    last = told.explanations[-1]
    assert last.cause is Cause.UNSEEN
    assert last.series == ""
    assert last.order[-1].words == "output off?"


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_volts_turned_down_before_switching_off_are_no_cut_out(seed: int) -> None:
    told = switched_off(660.0, knob_s=2.0, seed=seed)
    assert told.raised("tripped") == []
    assert told.explanations[-1].cause is Cause.OPERATOR
    assert "turned down from 9.0 V" in told.explanations[-1].sentence


def test_a_switch_far_under_the_limit_is_no_cut_out() -> None:
    told = switched_off(60.0)
    assert told.raised("tripped") == []
    assert told.explanations[-1].order[-1].words == "output off"


def test_silence_is_mains_or_link_and_what_came_back_is_told() -> None:
    vigil = Vigil(RunFacts("bench", "", 40.0, poll_s=POLL_S))
    rows: list[Sample | Gap] = [sample(n, n * POLL_S, 9.0, 20.0) for n in range(200)]
    rows += [gap(n, n * POLL_S) for n in range(200, 240)]
    rows += [sample(n, n * POLL_S, 0.0, 0.0) for n in range(240, 260)]
    verdicts = [vigil.update(row) for row in rows]
    told = [one.explanation for one in verdicts if one.explanation is not None]
    assert told[0].cause is Cause.MAINS_OR_LINK
    assert "while 20.0 A flowed" in told[0].sentence
    assert len([one for one in told if one.cause is Cause.MAINS_OR_LINK]) == 1
    words = [happening.words for happening in told[-1].order]
    assert "data came back, the output off" in words


def test_what_is_remembered_does_not_grow() -> None:
    vigil = Vigil(RunFacts("bench", "", 40.0, poll_s=POLL_S))
    for n in range(6000):
        on = n // 60 % 2
        vigil.update(sample(n, n * POLL_S, 9.0 * on, 20.0 * on))
    assert len(vigil._recollection._happenings) <= HAPPENINGS


def test_the_operators_next_step_begins_the_hold() -> None:
    vigil = Vigil(RunFacts("bench", "", 40.0, poll_s=POLL_S))
    for n in range(100):
        vigil.update(sample(n, n * POLL_S, 9.0, 20.0))
    assert vigil.next_step() == "keep the current on for 20 s"
    later = [vigil.update(sample(n, n * POLL_S, 9.0, 20.0)) for n in range(100, 160)]
    assert [p.prompt for one in later for p in one.prompts] == ["hold-done"]


def test_there_is_nothing_to_hold_while_the_output_is_off() -> None:
    vigil = Vigil(RunFacts("bench", "", 40.0, poll_s=POLL_S))
    for n in range(20):
        vigil.update(sample(n, n * POLL_S, 0.0, 0.0))
    assert vigil.next_step() == "the output is off"


def test_record_and_replay_are_told_the_same() -> None:
    """The same rows give the same answers, whoever runs them."""
    once, again = story("quiet-strip"), Story(load_scene("quiet-strip"), 1)
    assert (once.prompts, once.explanations, once.events) == (
        again.prompts,
        again.explanations,
        again.events,
    )
