"""Charge against the definition of the ampere-hour, Faraday's law and published equivalents."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants  # type: ignore[import-untyped]  # scipy ships no types

from monitor.analysis.charge import ChargePassed
from monitor.model.faraday import (
    AMP_HOURS_PER_MOL,
    CHROMIUM_G_PER_MOL,
    COULOMB_PER_MOL,
    NICKEL_G_PER_MOL,
    grams_per_amp_hour,
)


def test_faraday_constant_is_that_of_codata() -> None:
    # CODATA 2018 as carried by scipy; 96485.33212... C/mol, exact.
    published = constants.physical_constants["Faraday constant"][0]
    assert published == pytest.approx(COULOMB_PER_MOL, rel=1e-12)
    assert round(AMP_HOURS_PER_MOL, 4) == 26.8015


def test_equivalents_agree_with_faraday_and_the_trade_table() -> None:
    # Faraday's law with CODATA 2018 and IUPAC weights.
    assert grams_per_amp_hour(CHROMIUM_G_PER_MOL, 6) == pytest.approx(0.32334, rel=1e-4)
    assert grams_per_amp_hour(CHROMIUM_G_PER_MOL, 3) == pytest.approx(0.64668, rel=1e-4)
    assert grams_per_amp_hour(NICKEL_G_PER_MOL, 2) == pytest.approx(1.09497, rel=1e-4)
    # The classic trade table of electrochemical equivalents lists 0.323 and 1.095 g/Ah.
    assert round(grams_per_amp_hour(CHROMIUM_G_PER_MOL, 6), 3) == 0.323
    assert round(grams_per_amp_hour(NICKEL_G_PER_MOL, 2), 3) == 1.095


def test_a_ramp_is_integrated_without_error() -> None:
    # Trapezoid on a straight line: 0 to 10 A in an hour is 5 Ah (elementary).
    passed = ChargePassed(poll_s=36.0)
    for n in range(101):
        passed.update(n * 36.0, n * 0.1)
    assert passed.charge.amp_hours == pytest.approx(5.0, rel=1e-12)


def test_a_gap_adds_nothing_and_both_bounds_hold() -> None:
    passed = ChargePassed(poll_s=1.0)
    for n in range(3601):
        passed.update(float(n), None if 1000 < n < 2000 else 10.0)
    charge = passed.charge
    assert charge.amp_hours == charge.amp_hours_low == pytest.approx(26.0 / 3.6)
    assert charge.amp_hours_high == pytest.approx(10.0)
    assert charge.coverage == pytest.approx(2600.0 / 3600.0)


def test_a_hole_in_time_counts_as_a_gap() -> None:
    passed = ChargePassed(poll_s=1.0)
    for t_s in (0.0, 1.0, 61.0, 62.0):
        passed.update(t_s, 3.6)
    assert passed.charge.amp_hours == pytest.approx(0.002)
    assert passed.charge.coverage == pytest.approx(2.0 / 62.0)


@pytest.mark.parametrize(
    ("late_s", "coverage"),
    [(2.0, 1.0), (3.0, 1.0), (3.4, 1.0), (3.6, 2.0 / 5.6)],
    ids=["late", "every third poll is answered", "late, too", "a hole"],
)
def test_a_late_poll_is_no_hole(late_s: float, coverage: float) -> None:
    passed = ChargePassed(poll_s=1.0)
    for t_s in (0.0, 1.0, 1.0 + late_s, 2.0 + late_s):
        passed.update(t_s, 3.6)
    assert passed.charge.coverage == pytest.approx(coverage)


@given(st.lists(st.one_of(st.none(), st.floats(0.0, 100.0)), min_size=2, max_size=50))
def test_the_truth_lies_between_the_bounds(polls: list[float | None]) -> None:
    passed = ChargePassed(poll_s=1.0)
    for n, amps in enumerate(polls):
        passed.update(float(n), amps)
    charge = passed.charge
    assert 0.0 <= charge.coverage <= 1.0
    assert charge.amp_hours_low <= charge.amp_hours <= charge.amp_hours_high
