"""Draining: until nothing has come for a while, and never beyond the deadline."""

import pytest

from drivers.link.link import LAST_BYTES, after, drain
from tests.clock import HandClock
from tests.drivers.fake_link import FakeLink
from tests.drivers.fake_supply import FakeSupply
from tests.drivers.spoiling import Piece


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


@pytest.fixture
def link(clock: HandClock) -> FakeLink:
    made = FakeLink(FakeSupply(), clock)
    made.open(0)
    return made


def test_a_quiet_line_costs_the_quiet_time_only(link: FakeLink, clock: HandClock) -> None:
    began_ns = clock.now_ns
    drained = drain(link, clock, 0.03, after(clock, 1.0))
    assert (drained.count, drained.is_quiet) == (0, True)
    assert clock.now_ns - began_ns == 30_000_000


def test_what_comes_within_the_quiet_time_is_thrown_away(link: FakeLink, clock: HandClock) -> None:
    for at_s in (0.0, 0.02, 0.04):
        link.send(Piece(at_s, b"12.5\n"))
    link.send(Piece(0.2, b"later"))
    drained = drain(link, clock, 0.03, after(clock, 1.0))
    assert (drained.count, drained.is_quiet) == (15, True)
    assert link.read(after(clock, 1.0)) == b"later"


def test_a_line_that_never_gets_quiet_ends_at_the_deadline(
    link: FakeLink, clock: HandClock
) -> None:
    for number in range(200):
        link.send(Piece(number * 0.01, bytes([65 + number % 26])))
    deadline_ns = after(clock, 1.0)
    drained = drain(link, clock, 0.03, deadline_ns)
    assert not drained.is_quiet
    assert len(drained.last) == LAST_BYTES
    assert clock.now_ns <= deadline_ns + 10_000_000


def test_a_flood_ends_at_the_deadline(clock: HandClock) -> None:
    class Flood(FakeLink):
        def read(self, deadline_ns: int) -> bytes:
            self.clock.now_ns += 1_000_000
            return b"\x55" * 1000

    deadline_ns = after(clock, 0.5)
    drained = drain(Flood(FakeSupply(), clock), clock, 0.03, deadline_ns)
    assert (drained.count, drained.is_quiet) == (500_000, False)
    assert clock.now_ns == deadline_ns
