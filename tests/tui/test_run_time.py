"""The screen's own clock for a run: what it shows as old must be old."""

from dataclasses import replace

import pytest

from tests.tui.pictures import BEGAN_UTC_NS, BOOT, segment
from tests.tui.stage import StillClock
from tui.run_time import RunTime


def test_within_one_boot_the_monotonic_clock_counts() -> None:
    assert RunTime(StillClock(42.5), segment(), 1.0, BOOT).now_s() == pytest.approx(42.5)


def test_a_second_segment_counts_on_from_where_it_began() -> None:
    later = replace(segment(), segment=1, began_t_ns=100_000_000_000)
    assert RunTime(StillClock(42.5), later, 1.0, BOOT).now_s() == pytest.approx(142.5)


@pytest.mark.parametrize("boot", ["another-boot", "unknown"])
def test_across_boots_the_wall_clock_counts(boot: str) -> None:
    at = replace(segment(), began_monotonic_ns=999_000_000_000_000, boot_id="unknown")
    assert RunTime(StillClock(7.25), at, 1.0, boot).now_s() == pytest.approx(7.25)


def test_a_compressed_run_is_as_far_as_its_recorder_says() -> None:
    # The run's clock agreed with the machine's at 3 s of monotonic time, and began at 5 s of its
    # own, which is (5 - 3) / 10 = 0.2 s of the machine's later.
    at = replace(segment(), clock_anchor_monotonic_ns=3_000_000_000, began_monotonic_ns=5 * 10**9)
    clock = StillClock(0.0)
    clock.run_s = (3.0 + 0.2 + 6.0) - 5.0
    assert RunTime(clock, at, 10.0, BOOT).now_s() == pytest.approx(60.0)


def test_a_compressed_run_of_another_boot_goes_by_the_wall_clock() -> None:
    at = replace(segment(), clock_anchor_utc_ns=BEGAN_UTC_NS)
    assert RunTime(StillClock(6.0), at, 10.0, "another-boot").now_s() == pytest.approx(60.0)
