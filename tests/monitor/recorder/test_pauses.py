"""What a station does about time that went wrong: a paused machine, a stepped clock, a bug."""

import threading

import pytest

from drivers.errors import (
    NoAnswer,
)
from monitor.model.alarm import AlarmName
from monitor.model.sample import Gap, Sample
from monitor.recorder.pause import PauseWatch
from tests.clock import HandClock
from tests.monitor.recorder.scripted import UTC_NS, Bench, Step


@pytest.fixture
def bench() -> Bench:
    return Bench()


def test_a_pause_of_the_machine_is_a_gap_of_its_own_with_the_link_opened_anew(
    bench: Bench,
) -> None:
    bench.poll(3)
    opened = len(bench.driver.opened_at_ns)
    bench.clock.pass_s(60.0)
    bench.station.note_pause(60.0)
    bench.station.poll()
    paused = [row for row in bench.rows if isinstance(row, Gap)]
    assert {row.reason for row in paused} == {"host paused"}
    assert len(paused) == 300
    assert "60 s" in paused[0].detail
    bench.poll()
    assert isinstance(bench.rows[-1], Sample)
    assert len(bench.driver.opened_at_ns) == opened + 1
    assert [row.seq for row in bench.rows] == list(range(len(bench.rows)))
    events = [event for verdict in bench.verdicts for event in verdict.events]
    told = [(event.alarm, event.change.value) for event in events]
    # One cause, one alarm: that there were no data meanwhile is explained by the pause.
    assert told == [
        (AlarmName.HOST_PAUSED, "raised"),
        (AlarmName.NO_DATA, "suppressed"),
        (AlarmName.HOST_PAUSED, "returned"),
        (AlarmName.NO_DATA, "returned"),
    ]


def test_a_supply_that_is_mute_after_a_pause_is_no_data(bench: Bench) -> None:
    bench.poll(3)
    bench.clock.pass_s(60.0)
    bench.station.note_pause(60.0)
    bench.driver.answers = lambda: NoAnswer("nobody there")
    bench.poll(2)
    last = bench.verdicts[-1].events
    assert [(event.alarm, event.change.value) for event in last] == [
        (AlarmName.HOST_PAUSED, "returned"),
        (AlarmName.NO_DATA, "raised"),
    ]


def test_no_forecast_reaches_across_a_pause(bench: Bench) -> None:
    bench.poll(200)
    bench.clock.pass_s(60.0)
    bench.station.note_pause(60.0)
    bench.poll(2)
    assert bench.verdicts[-1].estimate.forecast.why in ("gap", "not enough data")


def test_an_answer_that_was_half_a_minute_under_way_is_no_sample(bench: Bench) -> None:
    bench.poll()
    bench.driver.takes_s = 45.0
    bench.poll()
    row = bench.rows[-1]
    assert isinstance(row, Gap)
    assert row.reason == "host paused"
    bench.driver.takes_s = 0.01
    bench.poll(2)
    assert isinstance(bench.rows[-1], Sample)


def test_a_bug_of_ours_is_an_alarm_with_its_traceback_and_polls_go_on_being_written(
    bench: Bench,
) -> None:
    bench.poll(2)

    def broken() -> Step:
        raise ZeroDivisionError("of ours")

    bench.driver.answers = broken
    bench.poll(4)
    gaps = [row for row in bench.rows if isinstance(row, Gap)]
    assert [row.seq for row in gaps] == [2, 3, 4, 5]
    assert "ZeroDivisionError: of ours" in gaps[0].detail
    assert "def broken" in gaps[0].detail or "in broken" in gaps[0].detail
    events = [event for verdict in bench.verdicts for event in verdict.events]
    assert [(event.alarm, event.change.value) for event in events] == [
        (AlarmName.WATCH_FAILED, "raised")
    ]
    assert "ZeroDivisionError" in events[0].message
    assert not bench.driver.is_open


def test_a_wait_that_ends_much_too_late_is_a_pause_and_suspension_counts() -> None:
    clock, stop, asleep_ns = HandClock(), threading.Event(), 0
    watch = PauseWatch(clock, clock, asleep=lambda: asleep_ns)
    watch.wait(0.2, stop)
    assert watch.paused_s(0.2) is None
    watch.wait(0.2, stop)
    clock.pass_s(1.9)
    assert watch.paused_s(0.2) is None, "a short stall only misses polls"
    watch.wait(0.2, stop)
    clock.pass_s(3.0)
    assert watch.paused_s(0.2) == pytest.approx(3.0)
    assert watch.wait(0.2, stop) is False
    asleep_ns = 3600 * 10**9
    assert watch.paused_s(0.2) == pytest.approx(3600.0), "the monotonic clock left it out"


def test_compressed_time_makes_no_pause_of_a_short_stall() -> None:
    real = HandClock()
    run = HandClock()
    watch = PauseWatch(run, real, speed=60.0, asleep=lambda: 0)
    watch.wait(60.0, threading.Event())
    real.pass_s(2.0)
    assert watch.paused_s(0.2) is None


NS = 1_000_000_000
STEPS = {
    "an hour back": -3600 * NS,
    "three years on": 3 * 365 * 86_400 * NS,
    "to 1970": -UTC_NS,
    "into the spring night of 2027, Berlin": 1_806_192_000 * NS - UTC_NS,
}
"""What is done to the wall clock in mid-run; daylight saving itself does nothing to UTC."""


@pytest.mark.parametrize("step", STEPS)
def test_a_stepped_clock_loses_doubles_and_reorders_nothing_and_the_charge_stays(
    step: str,
) -> None:
    control, stepped = Bench(), Bench()
    for bench in (control, stepped):
        bench.poll(100)
        if bench is stepped:
            bench.clock.utc_now_ns += STEPS[step]
        bench.poll(100)
    assert [row.seq for row in stepped.rows] == list(range(200))
    assert [row.t_ns for row in stepped.rows] == [row.t_ns for row in control.rows]
    ends = [bench.verdicts[-1].estimate.charge for bench in (control, stepped)]
    assert ends[0] == ends[1]
    assert ends[0].amp_hours > 0.0
    assert not [event for verdict in stepped.verdicts for event in verdict.events]
