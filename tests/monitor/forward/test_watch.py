"""Whether the copy at the server keeps up: when that is an alarm, and what is done about it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.alarms.catalogue import BY_NAME
from monitor.base.errors import WrongUse
from monitor.forward.process import forward_log_path, forwarder_lock
from monitor.forward.watch import BEHIND_S, GONE_S, Forwarded, ForwardWatch
from monitor.model.alarm import AlarmName
from monitor.store.forward_ledger import ForwardLedger
from monitor.text.alarms import ALARM_TEXTS
from tests.clock import HandClock
from tests.monitor.forward.bench import GONE, PLAN, MemorySink, a_forwarder, fill, store_with
from tests.monitor.store.bench import a_store

READINGS_PER_S = 5.0
TOO_MANY = round(BEHIND_S * READINGS_PER_S) + 1


class Bench:
    """A store that is forwarded, and a watch whose clock is moved by hand."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "a.db"
        self.clock = HandClock()
        self.started: list[tuple[Path, Path]] = []
        self.is_wrong = False
        self.run = store_with(self.path, 0, has_ended=False)
        ledger = ForwardLedger(self.path, PLAN.place)
        ledger.follow_runs()
        ledger.close()
        self.watch = ForwardWatch(
            self.path,
            Forwarded(folder / "bench.toml", PLAN.place),
            lambda: READINGS_PER_S,
            self.clock,
            lambda _: None,
            self._start,
        )

    def _start(self, config: Path, store: Path) -> None:
        if self.is_wrong:
            raise WrongUse("bench.toml: no such file")
        self.started.append((config, store))

    def record(self, count: int) -> None:
        with a_store(self.path) as writer:
            fill(writer, self.run, self.last, count)
        self.last += count

    last = 0

    def send(self, sink: MemorySink, batches: int) -> None:
        forwarder, _ = a_forwarder(self.path, sink, self.clock)
        for _ in range(batches):
            self.clock.pass_s(forwarder.step() + 0.001)
        forwarder.close()

    def look(self, after_s: float = 10.0) -> tuple[bool | None, str]:
        self.clock.pass_s(after_s)
        found = self.watch.look()
        assert found is not None
        assert found.alarm == AlarmName.FORWARD_BEHIND
        return found.holds, found.message


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


@pytest.fixture
def forwarder(bench: Bench) -> Iterator[None]:
    with forwarder_lock(bench.path):
        yield


def test_it_is_told_softly_and_says_that_nothing_is_lost() -> None:
    kind = BY_NAME[AlarmName.FORWARD_BEHIND]
    assert (kind.priority.value, kind.latched) == ("low", False)
    assert "kept here" in ALARM_TEXTS[kind.name].meaning


@pytest.mark.usefixtures("forwarder")
def test_ten_minutes_behind_is_an_alarm_and_less_is_none(bench: Bench) -> None:
    bench.record(TOO_MANY - 1)
    assert bench.look()[0] is False
    bench.record(1)
    holds, message = bench.look()
    assert holds is True
    assert message == f"{TOO_MANY:,} behind, none sent yet"


@pytest.mark.usefixtures("forwarder")
def test_the_servers_own_words_are_in_the_alarm(bench: Bench) -> None:
    bench.record(TOO_MANY)
    bench.send(MemorySink([GONE]), 1)
    holds, message = bench.look()
    assert holds is True
    assert message.endswith("no connection")


@pytest.mark.usefixtures("forwarder")
def test_a_backlog_that_shrinks_needs_nobody(bench: Bench) -> None:
    bench.record(3 * TOO_MANY)
    assert bench.look()[0] is True
    bench.send(MemorySink(), 2)
    holds, message = bench.look()
    assert holds is False
    assert " behind, last OK " in message
    # It stands still for a minute: now it is one again.
    for _ in range(8):
        holds, _ = bench.look()
    assert holds is True


def test_a_forwarder_that_died_is_started_again_and_its_absence_told(bench: Bench) -> None:
    forward_log_path(bench.path).write_text("bathvigil: token: may not be read\n")
    assert bench.look() == (
        False, "no forwarder runs for a.db: token: may not be read"
    )  # fmt: skip
    assert bench.look(GONE_S)[0] is True
    assert bench.started == []
    assert bench.look(GONE_S)[0] is True
    assert bench.started == [(bench.path.with_name("bench.toml"), bench.path)]
    bench.look()
    assert len(bench.started) == 1, "not more often than once a minute"
    with forwarder_lock(bench.path):
        assert bench.look()[0] is False
    assert bench.look()[0] is False, "and then it may be gone for a while again"


def test_settings_that_were_spoilt_meanwhile_are_told(bench: Bench) -> None:
    bench.is_wrong = True
    holds, message = bench.look(100.0)
    assert holds is True
    assert message.endswith("bench.toml: no such file")


@pytest.mark.usefixtures("forwarder")
def test_a_store_that_cannot_be_asked_says_nothing(bench: Bench) -> None:
    bench.path.write_bytes(b"no store")
    assert bench.watch.look() is None
