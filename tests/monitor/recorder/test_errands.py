"""What the operator asks for is done for the run that was meant, and each outcome is told."""

import threading
from pathlib import Path

import pytest

from drivers.base.clock import SystemClock
from monitor.model.alarm import AlarmEvent, AlarmName, Change
from monitor.model.card import JobCard
from monitor.model.card_text import card_as_text
from monitor.model.event import Mark, SettingChange
from monitor.model.finding import Finding
from monitor.model.request import Request, RequestKind
from monitor.model.run import EndReason, RunFacts, RunRow, Segment
from monitor.model.sample import Sample
from monitor.model.usual_amps import UsualAmps
from monitor.recorder.errands import Errands
from monitor.recorder.open_run import OpenRun
from monitor.recorder.wall_clock import WallClockWatch
from monitor.recorder.watched import Watched
from monitor.watch.vigil import Vigil
from tests.monitor.baths.test_usual_draw import BELL, jobs
from tests.monitor.recorder.scripted import Bench

FACTS = RunFacts("bench-1", "scpi:tcp://127.0.0.1:1", 10.0)
SECOND = 1_000_000_000


class Desk:
    """Two runs and what their errands told."""

    def __init__(self, store: Path = Path("none.db")) -> None:
        self.benches = {run: Bench() for run in (1, 2)}
        self.events: list[tuple[int, AlarmEvent]] = []
        self.marks: list[Mark] = []
        self.changes: list[tuple[int, SettingChange]] = []
        self.heard: list[str] = []
        self.ended: list[str] = []
        self.watched = {run: self.watch(run) for run in (1, 2)}
        self.errands = Errands(
            store,
            self.watched,
            lambda run, event: self.events.append((run, event)),
            self.note_apart,
            self.hear,
            self.ended.append,
        )

    def watch(self, run: int) -> Watched:
        row = RunRow(run, FACTS, "test", 0, 0)
        segment = Segment(run, 0, "boot", 1, 0, 0, 5 * SECOND, 0, 0, 0, "begun")
        begun = OpenRun(row, segment, SystemClock())
        return Watched(begun, "port", self.benches[run].station, 0, 0, WallClockWatch(None), 0)

    def note_apart(self, run: int, thing: Mark | SettingChange) -> None:
        if isinstance(thing, Mark):
            self.marks.append(thing)
        else:
            self.changes.append((run, thing))

    def hear(self, by: str) -> str:
        self.heard.append(by)
        return "noted"

    def ask(self, run: int, kind: RequestKind, detail: str = "") -> str:
        request = Request(1, run, 8 * SECOND, kind, detail, "Ada")
        outcome = self.errands.take(request)
        self.benches[run].poll()
        return outcome

    def raise_alarm(self, run: int) -> None:
        self.benches[run].station.ask(
            lambda vigil: vigil.report(Finding(AlarmName.NOT_RECORDING, True, "the disk is full"))
        )
        self.benches[run].poll()


@pytest.fixture
def desk() -> Desk:
    return Desk()


@pytest.mark.parametrize(
    ("kind", "change"),
    [(RequestKind.ACKNOWLEDGE, Change.ACKNOWLEDGED), (RequestKind.SHELVE, Change.SHELVED)],
)
def test_an_alarm_is_changed_in_the_run_that_was_meant(
    desk: Desk, kind: RequestKind, change: Change
) -> None:
    desk.raise_alarm(1)
    desk.raise_alarm(2)
    assert desk.ask(2, kind, f"{AlarmName.NOT_RECORDING}#1") == "taken"
    ((run, event),) = desk.events
    assert (run, event.change, event.by) == (2, change, "Ada")


def test_a_shelf_is_left_before_its_time(desk: Desk) -> None:
    desk.raise_alarm(1)
    desk.ask(1, RequestKind.SHELVE, f"{AlarmName.NOT_RECORDING}#1")
    desk.ask(1, RequestKind.UNSHELVE, f"{AlarmName.NOT_RECORDING}#1")
    assert [event.change for _, event in desk.events] == [Change.SHELVED, Change.UNSHELVED]


@pytest.mark.parametrize(
    "detail",
    [
        "",
        "not-recording",
        "not-recording#x",
        "not-recording#²",
        "not-recording#" + "1" * 5000,
        "no-such#1",
    ],
)
def test_what_names_no_occurrence_changes_nothing(desk: Desk, detail: str) -> None:
    desk.raise_alarm(1)
    desk.ask(1, RequestKind.ACKNOWLEDGE, detail)
    assert desk.events == []


def test_a_mark_stands_where_the_key_was_pressed(desk: Desk) -> None:
    assert desk.ask(1, RequestKind.MARK) == "mark 1"
    assert desk.ask(1, RequestKind.NOTE, "lifted") == "mark 2"
    assert [mark.t_ns for mark in desk.marks] == [3 * SECOND, 3 * SECOND]
    assert desk.marks[1].text == "lifted"


def test_a_job_card_puts_its_step_in_force_and_the_run_says_so(desk: Desk) -> None:
    card = JobCard("north tank", "clean", area_dm2=1.6)
    assert desk.ask(1, RequestKind.JOB_CARD, card_as_text(card)) == "taken"
    assert desk.benches[1].station.vigil.fittings.step.name == "clean"
    assert desk.benches[2].station.vigil.fittings.step.name == "strip"
    found = {change.name: (change.before, change.after) for _, change in desk.changes}
    assert {run for run, _ in desk.changes} == {1}
    assert found["fittings.step.name"] == ('"strip"', '"clean"')
    assert found["fittings.job.area_dm2"] == ("null", "1.6")
    # A strip in a tank has a window by default; the cleaning has none.
    assert found["fittings.window.lowest_volts"] == ("2.5", "null")
    # Each limit once: the step's own windows stand among the steps.
    assert not [name for name in found if name.startswith("fittings.step.volts")]


@pytest.mark.parametrize("text", ["", "strip", "strip#", "strip#7", "strip#[1]"])
def test_a_card_that_cannot_be_read_changes_nothing(desk: Desk, text: str) -> None:
    assert desk.ask(1, RequestKind.JOB_CARD, text) == "not understood"
    assert desk.benches[1].station.vigil.fittings.step.name == "strip"
    assert desk.changes == []


def test_the_recorder_ends_with_the_last_run_that_is_ended(desk: Desk) -> None:
    assert desk.ask(1, RequestKind.END_RUN) == "ended"
    assert desk.ended == []
    desk.ask(2, RequestKind.END_RUN)
    assert desk.ended == [EndReason.BY_OPERATOR]


def test_who_heard_the_sound_is_told(desk: Desk) -> None:
    assert desk.ask(1, RequestKind.SOUND_HEARD) == "noted"
    assert desk.heard == ["Ada"]


def test_a_reported_alarm_is_part_of_the_next_row(desk: Desk) -> None:
    desk.raise_alarm(1)
    bench = desk.benches[1]
    assert isinstance(bench.rows[-1], Sample)
    assert [event.alarm for event in bench.verdicts[-1].events] == [AlarmName.NOT_RECORDING]


def test_the_next_step_of_the_strip_is_taken_between_two_rows(desk: Desk) -> None:
    assert desk.ask(1, RequestKind.NEXT_STEP, "strip-looks-finished") == "taken"


def test_a_card_brings_what_like_jobs_drew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    jobs(tmp_path / "a.db", 1.0, probe=False)
    told: list[UsualAmps | None] = []
    monkeypatch.setattr(Vigil, "expect", lambda vigil, usual, *more: told.append(usual))
    desk = Desk(tmp_path / "a.db")
    assert desk.ask(2, RequestKind.JOB_CARD, card_as_text(BELL)) == "taken"
    for thread in threading.enumerate():
        if thread.name == "like jobs of run 2":
            thread.join(10.0)
    desk.benches[2].poll()
    (usual,) = told
    assert usual is not None
    assert usual.middle == pytest.approx(5.0)
