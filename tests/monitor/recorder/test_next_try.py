"""The next try to open a lost link: told by the recorder, counted down by a screen."""

import pytest

from drivers.errors import PortMissing
from monitor.model.event import NEXT_TRY, Status
from monitor.model.run import RunFacts, RunRow
from monitor.model.sample import Gap
from monitor.recorder.station import LAST_RETRY_S, SPREAD, next_try_noter
from monitor.text.situation import next_try_s, situation_at
from monitor.text.standing import standing
from tests.clock import HandClock
from tests.monitor.recorder.scripted import Bench

SPEED = 20.0
FACTS = RunFacts("bench-1", "scpi:/dev/none", limit_amps=10.0, clock_speed=SPEED)


def row(began_utc_ns: int) -> RunRow:
    return RunRow(1, FACTS, "bathvigil", began_utc_ns, 0)


def test_every_wait_for_a_lost_link_is_told() -> None:
    bench = Bench()
    waits: list[float] = []
    bench.station._tell_wait = waits.append
    bench.driver.opens = lambda: PortMissing("pulled")
    bench.poll(200)
    told = [0.5, 1.0, 2.0, 4.0, 8.0, LAST_RETRY_S]
    for wait_s, most_s in zip(waits, told, strict=False):
        assert most_s * (1.0 - SPREAD) <= wait_s <= most_s
    assert len(waits) >= len(told)


def test_a_screen_counts_down_in_real_seconds_whatever_the_speed_of_the_run() -> None:
    clock = HandClock()
    began_ns = clock.utc_ns()
    kept: list[Status] = []
    next_try_noter(lambda run, status: kept.append(status), 1, clock, SPEED)(8.0)
    (status,) = kept
    assert status.name == NEXT_TRY
    assert next_try_s(status, row(began_ns), 0.0) == pytest.approx(8.0)
    assert next_try_s(status, row(began_ns), 3.0 * SPEED) == pytest.approx(5.0)
    assert next_try_s(status, row(began_ns), 8.5 * SPEED) is None


@pytest.mark.parametrize("set_by_s", [-3600.0, 3 * 365 * 86_400.0])
def test_a_wall_clock_that_was_set_gives_no_senseless_countdown(set_by_s: float) -> None:
    status = Status(NEXT_TRY, round((1_000.0 + set_by_s) * 1e9), "", True)
    assert next_try_s(status, row(1_000_000_000_000), 0.0) is None


def test_the_state_sentence_says_when_it_is_tried_again() -> None:
    gap = Gap(5, 0, 0, "port missing")
    statuses = {NEXT_TRY: Status(NEXT_TRY, round(7.2 * SPEED * 1e9), "", True)}
    at = situation_at(0.0, row(0), None, gap, None, None, (), statuses)
    assert standing(at).line == "NO DATA: port missing, next try in 7 s"
