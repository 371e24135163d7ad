"""A recorder of two scripted supplies, whose own parts break: an alarm, and the rest goes on."""

import json
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TypeVar

import pytest

from drivers import paired
from drivers.driver import Driver, DriverSetUp
from drivers.reading import Identity, Reading
from monitor.model.alarm import AlarmEvent, Change, Priority, State
from monitor.model.request import RequestKind
from monitor.model.run import RunFacts, RunRow
from monitor.model.sample import Gap, Sample
from monitor.recorder.plan import SupplyPlan
from monitor.recorder.recorder import Recorder
from monitor.recorder.sound.proof import SoundProof
from monitor.recorder.sound.sounder import Sounder
from monitor.recorder.station import Station
from monitor.store.reader import StoredRun, open_store
from monitor.store.requests import RequestBox
from monitor.text.badges import badges
from monitor.watch.vigil import Verdict
from tests.monitor.recorder.sound.test_sounder import PatientClock

PATIENCE_S = 20.0
T = TypeVar("T")


class Steady:
    """A supply that always answers the same at once."""

    deadline_s = 0.5

    def open(self) -> Identity:
        return Identity("steady", "1")

    def read(self) -> Reading:
        return Reading(9.0, 5.0)

    def close(self) -> None:
        pass


class Loud:
    """Keeps the priorities that were sounded."""

    name = "a test"

    def __init__(self) -> None:
        self.played: list[str] = []

    def play(self, sound: str, timeout_s: float) -> str:
        self.played.append(sound)
        return self.name


class Bench:
    """A recorder in a thread, and what its store holds."""

    def __init__(self, store: Path) -> None:
        self.store = store
        self.listened: list[tuple[int, int]] = []
        self.on_row: Callable[[RunRow, Sample | Gap], None] = lambda run, row: None
        self.complaints: list[str] = []
        self.loud = Loud()
        self.sounder = Sounder(self.loud, PatientClock(), lambda state: None)
        plans = [
            SupplyPlan(
                RunFacts(name, f"scpi:/dev/{name}", limit_amps=10.0, poll_s=0.02),
                out_of_service=out,
            )
            for name, out in (("one", {}), ("two", {"density-high": "no area known"}))
        ]
        self.recorder = Recorder(
            store, plans, self.listen, self.complaints.append, sounder=self.sounder
        )

    def listen(self, run: RunRow, row: Sample | Gap, verdict: Verdict) -> None:
        self.listened.append((run.run, row.seq))
        self.on_row(run, row)

    def wait_for(self, what: str, look: Callable[[], bool]) -> None:
        pause = threading.Event()
        for _ in range(round(PATIENCE_S / 0.02)):
            if look():
                return
            pause.wait(0.02)
        raise AssertionError(f"waited for {what}; {self.complaints}")

    def look(self, run: int, ask: Callable[[StoredRun], T]) -> T:
        with open_store(self.store) as opened:
            return ask(opened.run(run))

    def alarms(self, run: int) -> list[AlarmEvent]:
        return self.look(run, lambda stored: stored.alarms())

    def seqs(self, run: int) -> list[int]:
        return self.look(run, lambda stored: [row.seq for row in stored.rows()])

    def goes_on(self, run: int) -> None:
        """More rows of a run are stored from here on."""
        last = max(self.seqs(run), default=-1)
        self.wait_for("more rows", lambda: max(self.seqs(run), default=-1) > last + 3)
        seqs = self.seqs(run)
        assert seqs == list(range(len(seqs)))


def has_alarms(bench: Bench, run: int) -> bool:
    return any(event.change is Change.RAISED for event in bench.alarms(run))


@contextmanager
def recording_bench(
    folder: Path, monkeypatch: pytest.MonkeyPatch, runs: tuple[int, int] = (1, 2)
) -> Iterator[Bench]:
    def opened(set_up: DriverSetUp) -> Driver:
        return Steady()

    monkeypatch.setattr(paired, "open_driver", opened)
    bench = Bench(folder / "runs.db")
    bench.sounder.tell_also(bench.recorder.note_sound)
    bench.sounder.start()
    thread = threading.Thread(target=bench.recorder.run)
    thread.start()
    try:
        bench.wait_for("both runs", lambda: {run for run, _ in list(bench.listened)} == {*runs})
        bench.goes_on(runs[0])
        yield bench
    finally:
        bench.recorder.stop()
        thread.join(PATIENCE_S)
        bench.sounder.close()


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Bench]:
    with recording_bench(tmp_path, monkeypatch) as one:
        yield one


def test_a_polling_thread_that_dies_is_an_alarm_with_its_traceback_and_the_other_goes_on(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    poll = Station.poll

    def dies(station: Station) -> None:
        if station.run == 1:
            raise ZeroDivisionError("of ours")
        poll(station)

    monkeypatch.setattr(Station, "poll", dies)
    bench.wait_for("the alarm", lambda: bool(bench.alarms(1)))
    (event,) = bench.alarms(1)
    assert (event.alarm, event.change.value) == ("watch-failed", "raised")
    assert "ZeroDivisionError: of ours" in event.message
    assert "\n" not in event.message
    bench.wait_for("the trace", lambda: "watch" in bench.look(1, lambda run: run.statuses()))
    trace = bench.look(1, lambda run: run.statuses())["watch"].text
    assert "in dies" in trace
    bench.wait_for("the sound", lambda: Priority.CRITICAL in bench.loud.played)
    bench.goes_on(2)
    assert [event.alarm for event in bench.alarms(2) if event.change is Change.RAISED] == []


def test_a_listener_that_breaks_costs_no_row_and_is_told(bench: Bench) -> None:
    def breaks(run: RunRow, row: Sample | Gap) -> None:
        raise ZeroDivisionError("of ours")

    bench.on_row = breaks
    bench.wait_for("the alarm", lambda: bool(bench.alarms(1)))
    assert [event.alarm for event in bench.alarms(1)] == ["part-failed"]
    bench.goes_on(1)
    bench.goes_on(2)
    assert "in breaks" in bench.look(1, lambda run: run.statuses())["listening"].text


def test_a_request_that_breaks_something_is_answered_and_ends_no_writing(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(_proof: SoundProof, by: str) -> None:
        raise ZeroDivisionError("of ours")

    monkeypatch.setattr(SoundProof, "hear", breaks)
    RequestBox(bench.store).ask(1, RequestKind.SOUND_HEARD, by="Ada")

    def outcomes() -> list[str | None]:
        return [one.outcome for one in bench.look(1, lambda run: run.requests())]

    bench.wait_for("the answer", lambda: outcomes() != [None])
    assert outcomes() == ["failed: ZeroDivisionError: of ours"]
    bench.goes_on(1)
    assert "part-failed" in [event.alarm for event in bench.alarms(1)]


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_any_thread_that_dies_is_told_in_every_run(bench: Bench) -> None:
    def dies() -> None:
        raise ZeroDivisionError("of ours")

    one = threading.Thread(target=dies, name="upkeep")
    one.start()
    one.join()
    for run in (1, 2):
        bench.wait_for("the alarm", partial(has_alarms, bench, run))
        event = bench.alarms(run)[-1]
        assert event.alarm == "part-failed"
        assert event.message.startswith("upkeep failed")
        assert "in dies" in bench.look(run, lambda stored: stored.statuses())["upkeep"].text


def test_what_is_out_of_service_stands_on_the_screen_for_the_whole_run(bench: Bench) -> None:
    (standing,) = bench.look(2, lambda run: run.standing_alarms())
    assert (standing.alarm, standing.state) == ("density-high", State.OUT_OF_SERVICE)
    assert bench.look(1, lambda run: run.standing_alarms()) == []
    said = badges(bench.look(2, lambda run: run.statuses()))
    assert ("DENSITY-HIGH OUT OF SERVICE", False) in said
    settings = json.loads(bench.look(2, lambda run: run.row).facts.settings)["in_force"]
    assert settings["alarms"]["density-high"]["out_of_service"] == "no area known"
    assert settings["alarms"]["disk-low"]["out_of_service"] is None
