"""What the tests of the store share: a clock set by hand, and rows as a recorder makes them."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest

from drivers.reading import Mode
from monitor.model.alarm import AlarmEvent, Change, Priority, State
from monitor.model.estimate import Charge, Estimate, Forecast
from monitor.model.run import RunFacts
from monitor.model.sample import Gap, Quality, Sample
from monitor.store.writer import StoreWriter
from tests.clock import HandClock

BEGAN_UTC_NS = HandClock().utc_ns()
POLL_NS = 200_000_000
FACTS = RunFacts(
    "bench-1", "scpi:/dev/ttyUSB0", 10.0, bath="north tank", bath_litres=9.0, settings='{"a":1}'
)


def a_store(path: Path, clock: HandClock | None = None) -> StoreWriter:
    """A writer that gives up a lock soon, so that tests are quick."""
    return StoreWriter(path, clock=clock or HandClock(), busy_timeout_s=0.01)


@contextmanager
def held_open(path: Path) -> Iterator[sqlite3.Connection]:
    """Another program that reads the store in a transaction which it does not end."""
    with closing(sqlite3.connect(path, isolation_level=None)) as stranger:
        stranger.execute("BEGIN")
        stranger.execute("SELECT count(*) FROM runs").fetchone()
        yield stranger


class Connections(list[sqlite3.Connection]):
    """Keeps every connection to a file that this process opens, the newest last.

    Limits and readings of SQLite's own belong to one connection.
    """

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        super().__init__()
        self._connect = sqlite3.connect
        monkeypatch.setattr(sqlite3, "connect", self._keep)

    def _keep(self, *where: Any, **how: Any) -> sqlite3.Connection:
        connection: sqlite3.Connection = self._connect(*where, **how)
        if where[0] != ":memory:":
            self.append(connection)
        return connection


def a_run(writer: StoreWriter, clock: HandClock | None = None) -> int:
    return writer.begin_run(FACTS, clock=clock or HandClock(), program="bathvigil test").run


def a_sample(
    seq: int,
    amps: float | None = 5.0,
    volts: float | None = 9.0,
    quality: Quality = Quality.GOOD,
    mode: Mode = Mode.CONSTANT_VOLTAGE,
) -> Sample:
    t_ns = seq * POLL_NS
    return Sample(
        seq, t_ns, BEGAN_UTC_NS + t_ns, 1500, volts, amps, 24.5, mode=mode, quality=quality
    )


def a_gap(seq: int, reason: str = "no answer", detail: str = "") -> Gap:
    return Gap(seq, seq * POLL_NS, BEGAN_UTC_NS + seq * POLL_NS, reason, detail)


def an_estimate(seq: int, amp_hours: float = 0.5) -> Estimate:
    return Estimate(
        seq,
        seq * POLL_NS,
        Forecast(118.0, 80.0, None, 0.63, None),
        Charge(amp_hours, amp_hours - 0.1, amp_hours + 0.1, 0.99),
        siemens=0.8,
        siemens_per_minute=0.01,
        in_contact=False,
    )


def an_event(
    seq: int,
    change: Change = Change.RAISED,
    state: State = State.UNACKNOWLEDGED,
    alarm: str = "trip-expected",
    priority: Priority = Priority.HIGH,
    occurrence: int = 1,
) -> AlarmEvent:
    return AlarmEvent(
        alarm, occurrence, change, state, priority, seq, seq * POLL_NS, "a cut-out is near", 118.0
    )
