"""The recorder's own health: who is told that it lives, and when that stops."""

import shutil
import socket
import stat
import sys
from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest

from monitor.model.event import Status
from monitor.model.finding import Finding
from monitor.recorder.heartbeat import Heartbeat, HeartbeatPlan
from monitor.recorder.scribe import Scribe
from monitor.recorder.upkeep import FRESH_S, ServiceLine, Upkeep
from monitor.recorder.wakefulness import Wakefulness
from monitor.recorder.watched import Watched
from monitor.store.opening import wal_path
from monitor.text.badges import badges
from tests.clock import HandClock
from tests.monitor.recorder.notices.receivers import http, receiver
from tests.monitor.store.bench import a_run, a_sample, a_store, held_open


@dataclass
class Run:
    """What upkeep looks at of a run."""

    evaluated_ns: int
    sampled_ns: int | None = None
    ended_why: str | None = None


@dataclass
class Writing:
    """What upkeep looks at of the scribe."""

    seen_ns: int
    has_failed: bool = False
    stored: dict[int, int] = field(default_factory=dict)

    def stored_ns(self, run: int) -> int | None:
        return self.stored.get(run)


class Health:
    """An upkeep of two runs whose recorder is a few numbers."""

    def __init__(self, folder: Path, least_free_bytes: int = 1) -> None:
        self.clock = HandClock()
        now_ns = self.clock.now_ns
        self.runs = {1: Run(now_ns, now_ns), 2: Run(now_ns, now_ns)}
        self.scribe = Writing(now_ns, stored={1: now_ns, 2: now_ns})
        self.found: list[Finding] = []
        self.statuses: list[Status] = []
        self.upkeep = Upkeep(
            folder / "runs.db",
            cast("dict[int, Watched]", self.runs),
            cast(Scribe, self.scribe),
            self.clock,
            ServiceLine({}),
            self.found.append,
            self.statuses.append,
            least_free_bytes,
        )

    def go_on(self, *, but_for: int = 0) -> None:
        """Time passes and all comes round, but for one run."""
        self.clock.pass_s(FRESH_S + 1)
        now_ns = self.clock.now_ns
        self.scribe.seen_ns = now_ns
        for run, one in self.runs.items():
            if run != but_for:
                one.evaluated_ns = one.sampled_ns = self.scribe.stored[run] = now_ns


@pytest.fixture
def health(tmp_path: Path) -> Health:
    return Health(tmp_path)


def test_one_stuck_polling_thread_stops_watchdog_and_heartbeat(health: Health) -> None:
    assert health.upkeep.is_turning()
    assert health.upkeep.is_fresh()
    health.go_on(but_for=2)
    assert not health.upkeep.is_turning()
    assert not health.upkeep.is_fresh()


def test_a_stuck_writing_stops_both(health: Health) -> None:
    seen_ns, stored = health.scribe.seen_ns, dict(health.scribe.stored)
    health.go_on()
    health.scribe.seen_ns, health.scribe.stored = seen_ns, stored
    assert not health.upkeep.is_turning()
    assert not health.upkeep.is_fresh()


def test_a_mute_supply_stops_the_heartbeat_but_does_not_get_the_recorder_killed(
    health: Health,
) -> None:
    health.go_on(but_for=2)
    health.runs[2].evaluated_ns = health.clock.now_ns  # a row without an answer
    assert health.upkeep.is_turning()
    assert not health.upkeep.is_fresh()


def test_a_full_disk_stops_the_heartbeat_but_does_not_get_the_ring_killed(health: Health) -> None:
    health.go_on()
    health.scribe.has_failed = True
    assert health.upkeep.is_turning()
    assert not health.upkeep.is_fresh()


def test_an_ended_run_is_asked_for_no_more(health: Health) -> None:
    health.runs[2].ended_why = "ended by the operator"
    health.go_on(but_for=2)
    assert health.upkeep.is_turning()
    assert health.upkeep.is_fresh()


def test_a_log_that_somebody_keeps_from_being_folded_in_is_told_once_and_its_end_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("monitor.recorder.upkeep.MOST_LOG_BYTES", 200_000)
    path = tmp_path / "runs.db"
    health = Health(tmp_path)
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(0))])
        seq = 1
        with held_open(path):
            while wal_path(path).stat().st_size <= 200_000:
                health.upkeep.look_at_the_log()
                assert health.statuses == []
                writer.write([(run, a_sample(seq))])
                seq += 1
            for _ in range(3):
                health.upkeep.look_at_the_log()
            (told,) = health.statuses
            assert badges({"log": told}) == (("THE STORE'S LOG GROWS", True),)
            assert told.text.endswith("close the other program that has runs.db open")
        assert writer.end_run(run, None, "done")
        health.upkeep.look_at_the_log()
    assert [status.is_well for status in health.statuses] == [False, True]
    assert badges({"log": health.statuses[-1]}) == ()


def test_a_disk_with_little_room_is_reported_with_how_much(tmp_path: Path) -> None:
    total = shutil.disk_usage(tmp_path).total
    for least, is_low in ((1, False), (2 * total, True)):
        health = Health(tmp_path, least)
        health.upkeep.look_at_the_disk()
        (finding,) = health.found
        assert (finding.alarm, finding.holds) == ("disk-low", is_low)
        assert "MB are free" in finding.message


def test_a_disk_that_wavers_about_the_bound_is_one_alarm(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    health, free = Health(tmp_path, 1000), [1010, 990, 1010, 990, 1150, 1250]

    def usage(path: Path) -> object:
        return SimpleNamespace(free=free.pop(0))

    monkeypatch.setattr(shutil, "disk_usage", usage)
    while free:
        health.upkeep.look_at_the_disk()
    assert [finding.holds for finding in health.found] == [False, True, True, True, True, False]


@pytest.mark.parametrize("abstract", [False, True])
def test_the_service_manager_gets_its_words(tmp_path: Path, abstract: bool) -> None:
    # sd_notify(3): datagrams of KEY=VALUE to the socket that NOTIFY_SOCKET names.
    place = f"@bathvigil-{tmp_path.name}" if abstract else str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind("\0" + place[1:] if abstract else place)
        manager.settimeout(5.0)
        line = ServiceLine({"NOTIFY_SOCKET": place})
        assert line.is_there
        said = []
        for speak in (line.ready, line.alive, line.stopping):
            speak()
            said.append(manager.recv(64))
    assert said == [b"READY=1", b"WATCHDOG=1", b"STOPPING=1"]
    line.alive()  # a manager that is gone is no failure


def test_a_beat_touches_the_file_and_fetches_the_address(tmp_path: Path) -> None:
    statuses: list[Status] = []
    file = tmp_path / "heartbeat"
    with receiver(http("200 OK")) as there:
        plan = HeartbeatPlan(file, there.url)
        fresh = [False, True]
        beat = Heartbeat(plan, HandClock(), lambda: fresh.pop(0), statuses.append)
        beat.beat()
        assert not file.exists()
        assert not there.bodies
        beat.beat()
        assert file.exists()
        assert len(there.bodies) == 1
    assert [status.is_well for status in statuses] == [True]


def test_a_beat_that_does_not_get_out_is_told_once(tmp_path: Path) -> None:
    statuses: list[Status] = []
    plan = HeartbeatPlan(tmp_path / "no" / "folder", "http://127.0.0.1:9/")
    beat = Heartbeat(plan, HandClock(), lambda: True, statuses.append)
    beat.beat()
    beat.beat()
    (status,) = statuses
    assert status.is_well is False
    assert "cannot be touched" in status.text
    assert "not reached" in status.text


def test_the_machine_is_kept_awake_by_a_child_that_ends_with_us() -> None:
    awake = Wakefulness(HandClock(), ["cat"])
    assert awake.begin().is_well is True
    child = awake._child
    assert child is not None
    awake.end()
    assert child.returncode == 0


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (None, "nothing here can keep it awake"),
        (["/no/such/inhibitor"], "cannot be run"),
        ([sys.executable, "-c", "import sys; sys.exit('access denied')"], "access denied"),
    ],
)
def test_a_machine_that_will_not_stay_awake_is_told(line: list[str] | None, says: str) -> None:
    awake = Wakefulness(HandClock(), line)
    status = awake.begin()
    awake.end()
    assert status.is_well is False
    assert says in status.text


def test_the_unit_file_has_the_watchdog_and_the_notifying_type() -> None:
    unit = Path(__file__).parents[3] / "packaging" / "bathvigil.service"
    words = unit.read_text(encoding="utf-8").splitlines()
    # systemd.service(5): WatchdogSec needs sd_notify, which Type=notify reads READY=1 from.
    assert {"Type=notify", "WatchdogSec=30", "Restart=on-failure"} <= set(words)
    watchdog_s = 30
    assert watchdog_s > 2 * FRESH_S, "a recorder that comes round is fed in time"
    assert stat.S_ISREG(unit.stat().st_mode)
