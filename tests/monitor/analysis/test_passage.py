"""First passage against scipy's inverse Gaussian and the closed forms of Chhikara & Folks 1989
(the latter from memory)."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats  # type: ignore[import-untyped]  # scipy ships no types

from monitor.analysis.passage import chance_by, chance_ever


def law(distance: float, drift: float, noise: float) -> stats.rv_continuous:
    shape = (distance / noise) ** 2
    return stats.invgauss(mu=distance / drift / shape, scale=shape)


def test_the_worked_case_agrees_digit_by_digit() -> None:
    # a = 10, v = 0.5, s = 1, computed with scipy.stats.invgauss.
    reference = law(10.0, 0.5, 1.0)
    assert reference.mean() == pytest.approx(20.0)
    assert reference.var() == pytest.approx(80.0)
    for t_s, chance in ((10.0, 0.0800668), (20.0, 0.5852889), (40.0, 0.9662205)):
        assert chance_by(t_s, 10.0, 0.5, 1.0) == pytest.approx(chance, abs=5e-8)
    for p, t_s in ((0.05, 9.06602), (0.5, 18.20428), (0.95, 37.05578)):
        assert chance_by(t_s, 10.0, 0.5, 1.0) == pytest.approx(p, abs=5e-7)


def test_two_amps_of_headroom_are_told_as_a_range() -> None:
    # 2 A, 0.02 A/s, 0.1 A per root second, computed with scipy.stats.invgauss.
    chances = [chance_by(t_s, 2.0, 0.02, 0.1) for t_s in (41.27, 89.05, 196.06)]
    assert chances == pytest.approx([0.05, 0.5, 0.95], abs=1e-4)


@given(st.floats(0.1, 50.0), st.floats(0.01, 5.0), st.floats(0.05, 5.0), st.floats(0.01, 100.0))
def test_chances_and_times_agree_with_scipy(
    distance: float, drift: float, noise: float, means: float
) -> None:
    reference = law(distance, drift, noise)
    t_s = means * distance / drift
    assert chance_by(t_s, distance, drift, noise) == pytest.approx(
        float(reference.cdf(t_s)), abs=1e-7
    )


def test_without_a_drift_the_limit_is_reached_surely_but_in_no_mean_time() -> None:
    # Reached by t with chance 2 Phi(-a / (s sqrt t)), the reflection principle.
    assert chance_ever(10.0, 0.0, 1.0) == 1.0
    assert chance_by(1e4, 10.0, 0.0, 1.0) == pytest.approx(2.0 * stats.norm.cdf(-0.1), abs=1e-9)


def test_a_drift_away_may_never_arrive() -> None:
    # P(ever) = exp(-2 |v| a / s^2): exp(-1).
    assert chance_ever(10.0, -0.05, 1.0) == pytest.approx(0.367879, abs=5e-7)
    assert chance_by(1e9, 10.0, -0.05, 1.0) == pytest.approx(math.exp(-1.0), rel=1e-6)


@given(st.floats(1e-3, 1e3), st.floats(-1e3, 1e3), st.floats(1e-4, 1e2), st.floats(1e-3, 1e6))
def test_no_input_overflows_or_leaves_zero_to_one(
    distance: float, drift: float, noise: float, t_s: float
) -> None:
    assert 0.0 <= chance_by(t_s, distance, drift, noise) <= 1.0
