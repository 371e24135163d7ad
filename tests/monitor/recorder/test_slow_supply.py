"""A supply that takes 1.3 s for an answer, polled every second: the readings come as fast as it can
give them, each in its place, and nothing is ever out of step."""

import pytest

from drivers.link_standing import link_standing
from drivers.scpi.scpi import ScpiDriver
from monitor.model.sample import Gap, Sample
from monitor.recorder.link_watch import LinkJudge
from tests.drivers.fake_supply import FakeSupply
from tests.monitor.recorder.slow import slow_bench

REPLY_S, POLL_S, MINUTES = 1.3, 1.0, 5


@pytest.fixture(scope="module")
def watched() -> tuple[ScpiDriver, FakeSupply, list[Sample | Gap]]:
    """Five minutes of it."""
    rows: list[Sample | Gap] = []
    bench = slow_bench(REPLY_S, POLL_S, lambda run, row, verdict: rows.append(row))
    while len(rows) < 60 * MINUTES / POLL_S:
        bench.poll()
    return bench.driver, bench.supply, rows


def test_the_rate_is_steady_between_a_half_and_seven_tenths_a_second(
    watched: tuple[ScpiDriver, FakeSupply, list[Sample | Gap]],
) -> None:
    _, _, rows = watched
    for minute in range(MINUTES):
        within = rows[60 * minute : 60 * (minute + 1)]
        assert 0.5 <= sum(isinstance(row, Sample) for row in within) / 60 <= 0.7
    assert [row.seq for row in rows] == list(range(len(rows)))
    assert {row.reason for row in rows if isinstance(row, Gap)} == {"poll missed"}


def test_no_value_is_another_questions_and_nothing_is_brought_back_into_step(
    watched: tuple[ScpiDriver, FakeSupply, list[Sample | Gap]],
) -> None:
    driver, supply, rows = watched
    samples = [row for row in rows if isinstance(row, Sample)]
    given = [one.value for one in supply.given if one.quantity == "volts"]
    assert [row.volts for row in samples] == given[-len(samples) :]
    tally = driver.tally
    assert (tally.late, tally.garbled) == (0, 0)
    asked_at_opening = 1
    assert supply.received.count(b"*IDN?") <= 3 + asked_at_opening


def test_the_state_is_asked_for_now_and_then_only(
    watched: tuple[ScpiDriver, FakeSupply, list[Sample | Gap]],
) -> None:
    _, supply, rows = watched
    states = sum(b"STAT:QUES" in message for message in supply.received)
    assert states <= len([row for row in rows if isinstance(row, Sample)]) / 4 + 5


def test_it_is_told_what_the_supply_allows(
    watched: tuple[ScpiDriver, FakeSupply, list[Sample | Gap]],
) -> None:
    told = LinkJudge(POLL_S).look(link_standing(watched[0]))
    assert told is not None
    assert "the supply allows 1 reading per 1.3 s" in told[0]
