"""Readings that cannot be are suspect: no amp-hour, no forecast and no alarm goes by them."""

import pytest

from drivers.base.clock import SystemClock
from drivers.reading import Identity, Reading
from monitor.model.run import RunFacts
from monitor.model.sample import Gap, Quality, Sample
from monitor.recorder.schedule import Schedule
from monitor.recorder.station import Station
from monitor.watch.vigil import Verdict, Vigil

LIMIT_AMPS = 10.0


class Says:
    deadline_s = 0.5

    def __init__(self, reading: Reading) -> None:
        self.reading = reading

    def open(self) -> Identity:
        return Identity("x", "1")

    def read(self) -> Reading:
        return self.reading

    def close(self) -> None:
        pass


def row_of(reading: Reading) -> Sample:
    rows: list[Sample | Gap] = []

    def keep(run: int, row: Sample | Gap, verdict: Verdict) -> None:
        rows.append(row)

    clock = SystemClock()
    now_ns = clock.monotonic_ns()
    facts = RunFacts("bench-1", "scpi:/dev/x", LIMIT_AMPS)
    Station(
        1, Says(reading), Vigil(facts), Schedule(now_ns, 0.2, 0, 0), now_ns, clock, clock, keep,
        opened=Identity("x", "1"), limit_amps=LIMIT_AMPS,
    ).poll()  # fmt: skip
    (row,) = rows
    assert isinstance(row, Sample)
    return row


@pytest.mark.parametrize("amps", [1e37, -1e37, 100.1, -100.1, float("nan"), float("inf")])
def test_amps_that_cannot_be_are_suspect_and_kept(amps: float) -> None:
    row = row_of(Reading(9.0, amps))
    assert row.quality is Quality.SUSPECT
    assert row.reason == "the supply gave a value that cannot be"


@pytest.mark.parametrize("reading", [Reading(1e37, 5.0), Reading(float("nan"), 5.0)])
def test_volts_that_cannot_be_are_suspect(reading: Reading) -> None:
    assert row_of(reading).quality is Quality.SUSPECT


@pytest.mark.parametrize("amps", [0.0, 10.0, 99.9, -5.0])
def test_amps_that_can_be_are_good(amps: float) -> None:
    assert row_of(Reading(9.0, amps)).quality is Quality.GOOD
