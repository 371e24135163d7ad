"""An hour at one poll a second from a supply that answers when it likes: no drift, no burst."""

import random
from itertools import pairwise

from monitor.model.run import RunFacts
from monitor.model.sample import Gap, Sample
from monitor.recorder.schedule import Schedule
from monitor.recorder.station import Station
from monitor.watch.vigil import Verdict, Vigil
from tests.clock import HandClock
from tests.monitor.recorder.scripted import ScriptedDriver

HOUR_S = 3600
FACTS = RunFacts("bench-1", "scpi:/dev/none", limit_amps=10.0, poll_s=1.0)


def an_hour(takes_s: list[float]) -> list[Sample | Gap]:
    """One row for each due poll; the driver takes so long for each question in turn."""
    clock = HandClock()
    driver = ScriptedDriver(clock)
    rows: list[Sample | Gap] = []

    def take(_run: int, row: Sample | Gap, _verdict: Verdict) -> None:
        rows.append(row)

    began_ns = clock.now_ns
    station = Station(
        run=1,
        driver=driver,
        vigil=Vigil(FACTS),
        schedule=Schedule(began_ns, FACTS.poll_s),
        began_ns=began_ns,
        clock=clock,
        real=clock,
        sink=take,
    )
    waiting = iter(takes_s)
    while len(rows) < HOUR_S:
        clock.pass_s(max(station.schedule.next_ns - clock.now_ns, 0) / 1e9)
        driver.takes_s = next(waiting)
        station.poll()
    return rows


def test_answers_that_take_up_to_nine_tenths_of_the_period_do_not_shift_it() -> None:
    chance = random.Random(4711)
    rows = an_hour([chance.uniform(0.0, 0.9) for _ in range(HOUR_S)])
    assert [row.seq for row in rows] == list(range(HOUR_S))
    assert all(isinstance(row, Sample) for row in rows)
    mean_s = (rows[-1].t_ns - rows[0].t_ns) / 1e9 / (len(rows) - 1)
    assert abs(mean_s - 1.0) < 0.001
    for row in rows:
        assert isinstance(row, Sample)
        # The middle of question and answer; the question itself went out on the grid.
        assert abs(row.t_ns - row.seq * 10**9 - row.latency_us * 500) <= 1000
    assert all(before.t_ns < after.t_ns for before, after in pairwise(rows))


def test_after_a_stall_of_ten_seconds_no_poll_is_caught_up() -> None:
    takes_s = [0.01] * HOUR_S
    takes_s[100] = 10.3
    rows = an_hour(takes_s)
    missed = [row.seq for row in rows if isinstance(row, Gap)]
    # The answer that was under way all the time is none either.
    assert missed == list(range(100, 111))
    answered = [row for row in rows if isinstance(row, Sample)]
    gaps_s = [(after.t_ns - before.t_ns) / 1e9 for before, after in pairwise(answered)]
    assert sorted(set(gaps_s)) == [1.0, 12.0]
    assert [row.seq for row in rows] == list(range(HOUR_S))
