"""A small draw of `make bench-switch-on`: each fault is told, and nothing is asked in vain."""

import pytest

from benchmarks.switch_on import Fault, Knows, share_told

EACH = 6


@pytest.mark.parametrize("fault", [fault for fault in Fault if fault is not Fault.NONE])
@pytest.mark.parametrize("knows", [Knows.PROBE, Knows.HISTORY])
def test_a_fault_is_told_where_like_jobs_are_known(fault: Fault, knows: Knows) -> None:
    assert share_told(fault, knows, EACH) == 1.0


@pytest.mark.parametrize("knows", list(Knows))
def test_nothing_is_asked_where_nothing_is_wrong(knows: Knows) -> None:
    assert share_told(Fault.NONE, knows, EACH) == 0.0


def test_twice_the_area_needs_an_area_to_be_told() -> None:
    assert share_told(Fault.TWICE, Knows.AREA, EACH) == 1.0
    assert share_told(Fault.TWICE, Knows.NOTHING, EACH) == 0.0
