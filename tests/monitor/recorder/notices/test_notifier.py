"""Notices of alarms: who gets which, how often each is tried, and what a kill leaves."""

import threading
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from monitor.base.secret import Secret
from monitor.model.alarm import AlarmEvent, Change, Priority, State
from monitor.model.event import Status
from monitor.model.finding import Finding
from monitor.model.run import RunFacts, RunRow
from monitor.recorder.notices.channel import Answer, Channel, ChannelKind
from monitor.recorder.notices.notice import Notice, notice_of
from monitor.recorder.notices.notifier import NoticePlan, Notifier
from monitor.recorder.notices.outbox import MOST, Outbox, outbox_path
from tests.clock import HandClock

RUN = RunRow(7, RunFacts("bench-1", "scpi:tcp://127.0.0.1:1", 10.0), "test", 1000, 0)
RAISED = AlarmEvent(
    "tripped", 1, Change.RAISED, State.UNACKNOWLEDGED, Priority.CRITICAL, 5, 10**9, "it cut out"
)
PATIENCE_S = 20.0


def channel(name: str) -> Channel:
    return Channel(name, ChannelKind.COMMAND, Secret("true"))


class World:
    """A notifier whose channels answer what the test says."""

    def __init__(self, folder: Path, *names: str) -> None:
        self.clock = HandClock()
        self.answers: dict[str, list[bool]] = {}
        self.sent: list[tuple[str, str, int]] = []
        self.found: list[Finding] = []
        self.statuses: dict[str, Status] = {}
        self.settled = threading.Condition()
        self.hold = threading.Event()
        self.held: set[str] = set()
        self.path = outbox_path(folder / "runs.db")
        plan = NoticePlan(tuple(channel(name) for name in names), tries=3)
        self.outbox = Outbox(self.path, names)
        self.notifier = Notifier(
            plan, self.outbox, self.clock, self.report, self.note, self.deliver
        )

    def deliver(self, channel: Channel, notice: Notice, within_s: float) -> Answer:
        if channel.name in self.held:
            self.hold.wait(PATIENCE_S)
        answers = self.answers.get(channel.name, [])
        is_ok = answers.pop(0) if answers else True
        with self.settled:
            self.sent.append((channel.name, notice.title, self.clock.now_ns))
            self.settled.notify_all()
        return Answer(is_ok, "taken" if is_ok else "550 no such person")

    def report(self, finding: Finding) -> None:
        with self.settled:
            self.found.append(finding)
            self.settled.notify_all()

    def note(self, status: Status) -> None:
        with self.settled:
            self.statuses[status.name] = status
            self.settled.notify_all()

    def wait_for(self, what: str, count: int) -> None:
        with self.settled:
            seen = self.settled.wait_for(lambda: len(getattr(self, what)) >= count, PATIENCE_S)
        assert seen, f"{what}: {getattr(self, what)}"


@pytest.fixture
def world(tmp_path: Path) -> Iterator[World]:
    one = World(tmp_path, "phone", "desk")
    one.notifier.start()
    yield one
    one.hold.set()
    one.notifier.close()


def test_a_raise_that_still_waits_is_told_once_to_every_channel(world: World) -> None:
    world.held = {"phone", "desk"}
    world.notifier.take(RUN, RAISED)
    world.notifier.take(RUN, RAISED)
    world.hold.set()
    world.wait_for("found", 2)
    assert sorted(name for name, *_ in world.sent) == ["desk", "phone"]
    assert world.sent[0][1] == "bench-1: tripped (critical)"


@pytest.mark.parametrize(
    "event",
    [
        replace(RAISED, priority=Priority.MEDIUM),
        replace(RAISED, change=Change.ACKNOWLEDGED, state=State.ACKNOWLEDGED),
        replace(RAISED, change=Change.RETURNED, state=State.RETURNED_UNACKNOWLEDGED),
        replace(RAISED, change=Change.SUPPRESSED, state=State.SUPPRESSED),
        replace(RAISED, alarm="notice-failed"),
    ],
)
def test_what_needs_nobody_at_once_is_not_told(world: World, event: AlarmEvent) -> None:
    world.notifier.take(RUN, event)
    assert world.outbox.count("phone") == 0


def test_a_failure_is_tried_again_after_growing_waits_and_then_told(world: World) -> None:
    world.answers["phone"] = [False, False, False]
    world.held = {"desk"}
    world.notifier.take(RUN, RAISED)
    world.wait_for("found", 1)
    times = [ns / 1e9 for name, _, ns in world.sent if name == "phone"]
    assert [later - sooner for sooner, later in pairwise(times)] == [2.0, 4.0]
    assert world.found[0].alarm == "notice-failed"
    assert world.found[0].holds is True
    assert "550 no such person" in world.found[0].message
    assert "last failure: 550 no such person" in world.statuses["notices phone"].text
    assert world.outbox.count("phone") == 0, "given up, not tried for ever"


def test_the_next_success_returns_the_failure(world: World) -> None:
    world.answers["phone"] = [False, False, False]
    world.notifier.take(RUN, RAISED)
    world.wait_for("found", 2)
    world.notifier.take(RUN, replace(RAISED, occurrence=2))
    world.wait_for("found", 4)
    assert world.found[-1].holds is False
    assert "last delivered: taken" in world.statuses["notices phone"].text


def test_a_channel_that_hangs_holds_no_other_up(world: World) -> None:
    world.held = {"phone"}
    world.notifier.take(RUN, RAISED)
    world.wait_for("sent", 1)
    assert [name for name, *_ in world.sent] == ["desk"]


def test_a_kill_loses_no_notice_and_what_was_delivered_is_not_sent_again(tmp_path: Path) -> None:
    killed = World(tmp_path, "phone", "desk")
    notice = notice_of(RUN, RAISED)
    for name in ("phone", "desk"):
        killed.outbox.put(name, notice)
    first = killed.outbox.first("desk")
    assert first is not None
    killed.outbox.done(killed.outbox.tried(first))
    # Nothing of the first one's memory is left; only its file.
    again = World(tmp_path, "phone", "desk")
    again.notifier.start()
    again.wait_for("found", 1)
    again.notifier.close()
    assert [name for name, *_ in again.sent] == ["phone"]
    assert Outbox(again.path, ["phone", "desk"]).first("phone") is None


def test_a_line_cut_by_a_power_failure_loses_that_notice_only(tmp_path: Path) -> None:
    outbox = Outbox(tmp_path / "x", ["phone"])
    for number in range(3):
        outbox.put("phone", replace(notice_of(RUN, RAISED), key=str(number)))
    outbox.keep()
    text = (tmp_path / "x").read_text()
    (tmp_path / "x").write_text(text[:-20])
    assert Outbox(tmp_path / "x", ["phone"]).count("phone") == 2


@pytest.mark.parametrize(
    "spoilt", ['"tries": 1E999', '"tries": null', f'"tries": {"[" * 100_000}', '"tries": "x"']
)
def test_a_line_that_was_spoilt_loses_that_notice_only(tmp_path: Path, spoilt: str) -> None:
    outbox = Outbox(tmp_path / "x", ["phone"])
    for number in range(3):
        outbox.put("phone", replace(notice_of(RUN, RAISED), key=str(number)))
    outbox.keep()
    text = (tmp_path / "x").read_text()
    (tmp_path / "x").write_text(text.replace('"tries": 0', spoilt, 1))
    assert Outbox(tmp_path / "x", ["phone"]).count("phone") == 2


def test_what_waits_is_bounded_and_the_oldest_go_first(tmp_path: Path) -> None:
    outbox = Outbox(tmp_path / "x", ["phone"])
    for number in range(MOST + 3):
        outbox.put("phone", replace(notice_of(RUN, RAISED), key=str(number)))
    first = outbox.first("phone")
    assert first is not None
    assert (outbox.count("phone"), outbox.dropped, first.notice.key) == (MOST, 3, "3")


def test_notices_wait_in_memory_where_the_file_cannot_be_written(tmp_path: Path) -> None:
    outbox = Outbox(tmp_path / "no such folder" / "x", ["phone"])
    outbox.put("phone", notice_of(RUN, RAISED))
    outbox.keep()
    assert outbox.count("phone") == 1


def test_taking_an_alarm_never_waits_for_the_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stuck, goes_on = threading.Event(), threading.Event()

    def fsync(descriptor: int) -> None:
        stuck.set()
        goes_on.wait(PATIENCE_S)

    monkeypatch.setattr("os.fsync", fsync)
    world = World(tmp_path, "phone")
    world.held = {"phone"}
    world.notifier.start()
    world.notifier.take(RUN, RAISED)
    assert stuck.wait(PATIENCE_S)
    # The disk hangs; a polling thread that brings the next alarm comes back all the same.
    world.notifier.take(RUN, replace(RAISED, occurrence=2))
    assert world.outbox.count("phone") == 2
    goes_on.set()
    world.hold.set()
    world.wait_for("sent", 2)
    world.notifier.close()
    assert not Outbox(world.path, ["phone"]).count("phone")


def test_a_notice_is_on_the_disk_while_another_one_is_under_way(world: World) -> None:
    world.held = {"phone", "desk"}
    world.notifier.take(RUN, RAISED)
    world.notifier.take(RUN, replace(RAISED, occurrence=2))
    # A kill now would lose neither.
    deadline = threading.Event()
    for _ in range(500):
        if Outbox(world.path, ["phone"]).count("phone") == 2:
            break
        deadline.wait(0.01)
    assert Outbox(world.path, ["phone"]).count("phone") == 2
