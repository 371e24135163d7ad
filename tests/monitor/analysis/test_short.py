"""A short on the first sample that shows it; none where the operator or the hand did it."""

import pytest

from monitor.analysis.short import ShortWatch


def watched(limit_amps: float = 40.0) -> ShortWatch:
    """A bath of 3.9 S behind 1.8 V, steady at 8 V for a while."""
    watch = ShortWatch(limit_amps)
    for n in range(20):
        assert watch.update(n * 0.2, 8.0, 24.2, 3.9, 1.8) is None
    return watch


def test_volts_that_no_cell_conducts_at_are_a_short() -> None:
    # Water splits at 1.229 V and no less: CRC Handbook's Gibbs energies of formation.
    short = ShortWatch(40.0).update(0.0, 0.9, 40.0, None, 1.8)
    assert short is not None
    assert short.ohms == pytest.approx(0.0225)


def test_the_leads_own_drop_counts_as_no_cell() -> None:
    # 40 A through 20 milliohm are 0.8 V: 1.6 V at the terminals are 0.8 V at the short.
    assert ShortWatch(40.0, lead_ohms=0.02).update(0.0, 1.6, 40.0, None, 1.8) is not None
    assert ShortWatch(40.0, lead_ohms=0.0).update(0.0, 1.6, 40.0, None, 1.8) is None


def test_the_first_sample_with_more_than_the_bath_draws_is_enough() -> None:
    short = watched().update(4.0, 8.0, 60.0, None, 1.8)
    assert short is not None
    assert short.bath_amps == pytest.approx(24.18)


def test_a_supply_that_gives_all_it_can_lets_the_volts_fall_and_is_seen_too() -> None:
    assert watched().update(4.0, 2.2, 52.0, None, 1.8) is not None


def test_it_stands_until_volts_over_amps_are_back() -> None:
    watch = watched()
    watch.update(4.0, 2.2, 52.0, None, 1.8)
    assert watch.update(4.2, 2.3, 52.0, None, 1.8) is not None
    assert watch.update(4.4, 8.0, 24.0, None, 1.8) is None


@pytest.mark.parametrize("true_e0", [1.4, 1.8, 2.2])
@pytest.mark.parametrize(("before", "after"), [(4.0, 9.0), (9.0, 4.0), (6.0, 12.0)])
def test_a_step_of_the_volts_is_none(true_e0: float, before: float, after: float) -> None:
    watch, siemens = ShortWatch(40.0), 4.0
    amps = siemens * (before - true_e0)
    for n in range(10):
        watch.update(n * 0.2, before, amps, amps / (before - 1.8), 1.8)
    assert watch.update(2.0, after, siemens * (after - true_e0), None, 1.8) is None


def test_a_second_part_like_the_first_is_none() -> None:
    assert watched().update(4.0, 8.0, 48.4, None, 1.8) is None


def test_a_bath_not_known_of_late_convicts_nobody() -> None:
    assert watched().update(60.0, 8.0, 60.0, None, 1.8) is None
