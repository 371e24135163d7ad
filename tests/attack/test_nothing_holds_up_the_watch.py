"""What is around the watch freezes, each part alone and all at once: no poll, no alarm waits.

Frozen means: called, and never coming back while the test looks.
"""

import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from drivers.driver import Driver, DriverSetUp
from drivers.errors import NoAnswer
from drivers.reading import Identity, Reading
from monitor.base.secret import Secret
from monitor.forward.watch import Forwarded, ForwardWatch
from monitor.model.alarm import AlarmEvent, Change, Priority
from monitor.model.run import RunFacts, RunRow
from monitor.model.sample import Gap, Sample
from monitor.recorder import reaching, surroundings
from monitor.recorder.heartbeat import Heartbeat, HeartbeatPlan
from monitor.recorder.notices.channel import Answer, Channel, ChannelKind
from monitor.recorder.notices.notice import Notice
from monitor.recorder.notices.notifier import NoticePlan, Notifier
from monitor.recorder.plan import SupplyPlan
from monitor.recorder.recorder import Recorder
from monitor.recorder.sound.sounder import Sounder
from monitor.recorder.surroundings import Outside
from monitor.recorder.upkeep import Upkeep
from monitor.store.writer import StoreWriter
from monitor.watch.vigil import Verdict, Vigil
from tests.monitor.recorder.sound.test_sounder import PatientClock

PATIENCE_S = 30.0
PARTS = ["listener", "screen", "sound", "notices", "heartbeat", "upkeep", "forwarder", "store"]


class Supply:
    """Answers at once, until it falls silent."""

    deadline_s = 0.5

    def __init__(self) -> None:
        self.reads = 0
        self.is_silent = False

    def open(self) -> Identity:
        return Identity("steady", "1")

    def read(self) -> Reading:
        self.reads += 1
        if self.is_silent:
            raise NoAnswer("silent")
        return Reading(9.0, 5.0)

    def close(self) -> None:
        pass


class Surrounded:
    """A recorder whose surroundings can be frozen, part by part."""

    name = "a horn"

    def __init__(self, store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.store = store
        self.supply = Supply()
        self.frozen: set[str] = set()
        self.thaw = threading.Event()
        self.entered: set[str] = set()
        self.raised: list[AlarmEvent] = []
        self.played: list[str] = []
        self.posted: list[str] = []
        self._patch(monkeypatch)
        facts = RunFacts("bench-1", "scpi:/dev/bench-1", limit_amps=10.0, poll_s=0.02)
        channel = Channel("phone", ChannelKind.WEBHOOK, Secret("http://phone.invalid"))
        self.recorder = Recorder(
            store,
            [SupplyPlan(facts, no_data_after_s=0.1)],
            self.listen,
            lambda sentence: None,
            sounder=Sounder(self, PatientClock(), lambda state: None),
            outside=Outside(
                NoticePlan((channel,)),
                HeartbeatPlan(store, every_s=0.05),
                Forwarded(store.with_name("bench.toml"), "a server"),
            ),
        )

    def pass_by(self, part: str) -> None:
        if part in self.frozen:
            self.entered.add(part)
            self.thaw.wait(PATIENCE_S * 3)

    def listen(self, run: RunRow, row: Sample | Gap, verdict: Verdict) -> None:
        self.pass_by("listener")

    def play(self, sound: str, timeout_s: float) -> str:
        self.pass_by("sound")
        self.played.append(sound)
        return self.name

    def post(self, channel: Channel, notice: Notice, within_s: float) -> Answer:
        self.pass_by("notices")
        self.posted.append(notice.title)
        return Answer(True, "200")

    def _patch(self, monkeypatch: pytest.MonkeyPatch) -> None:
        def opened(set_up: DriverSetUp, amps: object) -> Driver:
            return self.supply

        def before(kind: type, name: str, part: str) -> None:
            real = getattr(kind, name)

            def delayed(*given: object, **more: object) -> object:
                self.pass_by(part)
                return real(*given, **more)

            monkeypatch.setattr(kind, name, delayed)

        monkeypatch.setattr(reaching, "open_supply", opened)
        before(StoreWriter, "write", "store")
        before(Heartbeat, "beat", "heartbeat")
        before(Upkeep, "look", "upkeep")
        before(ForwardWatch, "look_and_report", "forwarder")
        monkeypatch.setattr(surroundings, "FORWARD_EVERY_S", 0.05)
        monkeypatch.setattr(Notifier.__init__, "__defaults__", (self.post,))
        update = Vigil.update

        def judged(vigil: Vigil, row: Sample | Gap) -> Verdict:
            verdict = update(vigil, row)
            self.raised += [one for one in verdict.events if one.change is Change.RAISED]
            return verdict

        monkeypatch.setattr(Vigil, "update", judged)

    @contextmanager
    def freeze(self, parts: list[str]) -> Iterator[None]:
        """A stopped screen holds what it was reading; the others hold whoever calls them."""
        screen = sqlite3.connect(self.store, isolation_level=None)
        if "screen" in parts:
            screen.execute("BEGIN IMMEDIATE")
        self.frozen = set(parts)
        try:
            yield
        finally:
            self.frozen = set()
            self.thaw.set()
            screen.close()


def wait_for(what: str, look: Callable[[], bool]) -> None:
    pause = threading.Event()
    for _ in range(round(PATIENCE_S / 0.02)):
        if look():
            return
        pause.wait(0.02)
    raise AssertionError(f"waited for {what}")


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Surrounded]:
    bench = Surrounded(tmp_path / "runs.db", monkeypatch)
    sounder = bench.recorder._sounder
    assert sounder is not None
    sounder.start()
    thread = threading.Thread(target=bench.recorder.run)
    thread.start()
    wait_for("the first polls", lambda: bench.supply.reads > 10 and bool(bench.played))
    try:
        yield bench
    finally:
        bench.thaw.set()
        bench.recorder.stop()
        thread.join(PATIENCE_S)
        sounder.close()
        assert not thread.is_alive()


@pytest.mark.parametrize("parts", [*([part] for part in PARTS), PARTS], ids="+".join)
def test_a_frozen_part_costs_no_poll_and_no_alarm(bench: Surrounded, parts: list[str]) -> None:
    with bench.freeze(parts):
        before = bench.supply.reads
        wait_for("further polls", lambda: bench.supply.reads > before + 40)
        bench.supply.is_silent = True
        wait_for("the alarm", lambda: "no-data" in [event.alarm for event in bench.raised])
        if "sound" not in parts:
            wait_for("the sound", lambda: Priority.CRITICAL in bench.played)
        if "notices" not in parts:
            wait_for("the notice", lambda: bool(bench.posted))
        before = bench.supply.reads
        wait_for("polls after the alarm", lambda: bench.supply.reads > before + 5)
        wait_for("all to be stuck", lambda: {*parts} - {"screen", "heartbeat"} <= bench.entered)


def test_what_a_frozen_listener_did_not_hear_is_counted_once_it_hears_again(
    bench: Surrounded, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[str] = []
    monkeypatch.setattr(bench.recorder, "_complain", told.append)
    monkeypatch.setattr(bench.recorder._unheard, "_most", 10)
    with bench.freeze(["listener"]):
        before = bench.supply.reads
        wait_for("more polls than wait", lambda: bench.supply.reads > before + 40)
        assert not [words for words in told if "not told" in words]
    wait_for("the count", lambda: any("were stored, but not told" in words for words in told))
