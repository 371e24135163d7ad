"""A wall clock that is set in mid-run is told with both its times; one that is steered is not."""

import pytest

from monitor.model.run import RunFacts
from monitor.model.sample import Sample
from monitor.recorder.in_force import as_settings, changes, in_force
from monitor.recorder.plan import SupplyPlan
from monitor.recorder.wall_clock import WALL_CLOCK, WallClockWatch

UTC_NS = 1_790_000_000_000_000_000
HOUR_NS = 3600 * 10**9


def sample(t_s: float, stepped_ns: int = 0) -> Sample:
    t_ns = round(t_s * 1e9)
    return Sample(round(5 * t_s), t_ns, UTC_NS + t_ns + stepped_ns, 900, 9.0, 5.0)


@pytest.mark.parametrize("step_ns", [-HOUR_NS, 3 * 365 * 24 * HOUR_NS, 1_100_000_000, -UTC_NS])
def test_a_step_is_told_once_with_what_the_clock_would_have_said(step_ns: int) -> None:
    watch = WallClockWatch(None, asleep=lambda: 0)
    assert watch.take(sample(0.0)) is None
    assert watch.take(sample(0.2)) is None
    step = watch.take(sample(0.4, step_ns))
    assert step is not None
    assert (step.t_ns, step.name) == (400_000_000, WALL_CLOCK)
    assert step.utc_ns == UTC_NS + 4 * 10**8 + step_ns
    assert step.before == '"2026-09-21T14:13:20.400Z"'
    assert watch.take(sample(0.6, step_ns)) is None


def test_a_clock_that_is_steered_is_not_set() -> None:
    # A time server may slew by 500 parts in a million: adjtime(3).
    watch = WallClockWatch(None, asleep=lambda: 0)
    for number in range(20_000):
        assert watch.take(sample(0.2 * number, 100_000 * number)) is None


def test_a_machine_that_slept_has_not_been_set() -> None:
    asleep_ns = [0, 0, HOUR_NS, HOUR_NS]
    watch = WallClockWatch(None, asleep=lambda: asleep_ns.pop(0))
    assert watch.take(sample(0.0)) is None
    assert watch.take(sample(0.2, HOUR_NS)) is None


def test_a_step_while_no_recorder_ran_is_told_by_the_next_one() -> None:
    watch = WallClockWatch(UTC_NS, asleep=lambda: 0)
    step = watch.take(sample(60.0, -HOUR_NS))
    assert step is not None
    # And it is no setting that would have to be put back at the next taking up.
    limits = in_force(SupplyPlan(RunFacts("bench-1", "scpi:/dev/x", limit_amps=10.0)), [])
    assert changes(as_settings(limits, "{}"), [step], limits, 0, 0) == []
