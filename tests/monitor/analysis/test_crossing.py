"""The law of the first peak at the limit, against scipy's special functions and simulation."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq  # type: ignore[import-untyped]  # scipy ships no types
from scipy.special import pbdv  # type: ignore[import-untyped]  # scipy ships no types
from scipy.stats import norm  # type: ignore[import-untyped]  # scipy ships no types

from monitor.analysis.crossing import BETWEEN_LOOKS, Crossing, escape


@pytest.mark.parametrize("level", [-1.5, -0.5, 0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0])
def test_the_escape_rate_is_the_root_of_the_parabolic_cylinder_function(level: float) -> None:
    # Darling & Siegert 1953 (from memory); D_nu by scipy.special.pbdv.
    step = 1e-3
    grid = np.arange(0.37 * step, 6.0, step)
    values = [float(pbdv(nu, -level)[0]) for nu in grid]
    first = next(i for i in range(len(values) - 1) if values[i] * values[i + 1] < 0.0)
    rate = brentq(lambda nu: pbdv(nu, -level)[0], grid[first], grid[first + 1])
    found = (escape(level - 0.05) - escape(level + 0.05)) / 0.1
    assert found == pytest.approx(rate, rel=0.03)


def test_far_up_the_escape_rate_is_rices() -> None:
    # Rice 1944 (from memory): level * density(level); 5 % off at 3.5 sd, less further up.
    assert (escape(3.7) - escape(3.9)) / 0.2 == pytest.approx(3.8 * norm.pdf(3.8), rel=0.1)


@pytest.mark.parametrize(
    ("per_minute", "sd", "memory_s"),
    [(0.003, 0.006, 30.0), (0.01, 0.006, 30.0), (0.03, 0.006, 20.0), (0.01, 0.003, 60.0)],
)
def test_times_agree_with_simulated_first_passages(
    per_minute: float, sd: float, memory_s: float
) -> None:
    """10 000 simulated AR(1) runs towards a limit 4 % away, looked at every half second."""
    drift, distance, look_s = per_minute / 60.0, 0.04, 0.5
    draw = np.random.default_rng(7)
    keep = math.exp(-look_s / memory_s)
    wander = sd * draw.standard_normal(10_000)
    passed = np.full(10_000, np.inf)
    for step in range(1, int(2.0 * distance / drift / look_s)):
        wander = keep * wander + sd * math.sqrt(1 - keep**2) * draw.standard_normal(10_000)
        over = (wander + drift * step * look_s > distance) & np.isinf(passed)
        passed[over] = step * look_s
    crossing = Crossing(
        distance, drift, 0.0, 1e-16, 0.0, sd**2, memory_s, look_s, distance_now=distance
    )
    scale = distance / drift
    for p in (0.1, 0.5, 0.9):
        found = crossing.time_at(p, scale, 10.0 * scale)
        assert found is not None
        assert found == pytest.approx(float(np.quantile(passed, p)), abs=0.08 * scale)
    horizon_s = 0.8 * scale
    assert crossing.chance(horizon_s) == pytest.approx(float(np.mean(passed <= horizon_s)), abs=0.1)


@pytest.mark.parametrize("wander_now", [-0.006, 0.0, 0.006])
def test_a_wander_with_a_long_memory_counts_from_where_it_stands(wander_now: float) -> None:
    """Within half a memory the passage is that of Brownian motion from the present value."""
    sd, memory_s, distance, drift = 0.006, 200.0, 0.012, 0.01 / 60.0
    draw = np.random.default_rng(8)
    keep = math.exp(-0.5 / memory_s)
    wander = np.full(10_000, wander_now)
    passed = np.zeros(10_000, dtype=bool)
    for step in range(1, 121):
        wander = keep * wander + sd * math.sqrt(1 - keep**2) * draw.standard_normal(10_000)
        passed |= wander + drift * step * 0.5 > distance
    crossing = Crossing(
        distance, drift, 0.0, 1e-16, 0.0, sd**2, memory_s, 0.5, distance - wander_now
    )
    assert crossing.chance(60.0) == pytest.approx(float(np.mean(passed)), abs=0.12)


def test_peaks_that_do_not_last_do_not_count() -> None:
    """Looked at every 10 s only, the first passage comes later, as in simulation."""
    sd, memory_s, distance, drift, look_s = 0.006, 20.0, 0.04, 0.005 / 60.0, 10.0
    draw = np.random.default_rng(9)
    keep = math.exp(-look_s / memory_s)
    wander = sd * draw.standard_normal(10_000)
    passed = np.full(10_000, np.inf)
    for step in range(1, 80):
        wander = keep * wander + sd * math.sqrt(1 - keep**2) * draw.standard_normal(10_000)
        over = (wander + drift * step * look_s > distance) & np.isinf(passed)
        passed[over] = step * look_s
    times = []
    for every_s in (look_s, 1e-6):
        crossing = Crossing(distance, drift, 0.0, 1e-16, 0.0, sd**2, memory_s, every_s, distance)
        times.append(crossing.time_at(0.5, 300.0, 5000.0))
    assert times[0] == pytest.approx(float(np.median(passed)), abs=20.0)
    assert times[1] is not None
    assert times[0] is not None
    assert times[0] > times[1] + 20.0


def test_doubt_about_the_drift_widens_the_range() -> None:
    def width(drift_sd: float) -> float:
        crossing = Crossing(0.05, 2e-4, 0.0, drift_sd**2, 0.0, 9e-6, 20.0, 0.5, 0.05)
        low, high = crossing.time_at(0.1, 200.0, 1e5), crossing.time_at(0.9, 300.0, 1e5)
        assert low is not None
        assert high is not None
        return high - low

    assert width(5e-5) > 1.5 * width(1e-7)


def test_looking_seldom_raises_the_level_by_the_published_constant() -> None:
    # -zeta(1/2)/sqrt(2 pi), Broadie, Glasserman & Kou 1997 (from memory); zeta(1/2) = -1.4603545.
    assert pytest.approx(1.4603545 / math.sqrt(2.0 * math.pi), abs=1e-4) == BETWEEN_LOOKS


def test_a_limit_out_of_reach_has_no_time() -> None:
    crossing = Crossing(0.5, -1e-4, 1e-6, 1e-10, 0.0, 1e-6, 20.0, 0.5, 0.5)
    assert crossing.time_at(0.5, 100.0, 1800.0) is None
    assert crossing.chance(120.0) < 1e-6


@pytest.mark.parametrize("moved", [0.9, 0.95, 1.0, 1.05, 1.1])
def test_times_found_from_near_ones_are_those_of_the_search(moved: float) -> None:
    crossing = Crossing(0.05, 2e-4, 1e-6, 4e-10, 0.0, 9e-6, 20.0, 0.5, 0.05)
    low, median, high = (crossing.time_at(p, 200.0, 1e5) for p in (0.1, 0.5, 0.9))
    assert low is not None
    assert median is not None
    assert high is not None
    near = crossing.times_near(moved * low, moved * median, moved * high, 1e5)
    assert near is not None
    for p, found in zip((0.5, 0.1, 0.9), near, strict=True):
        assert crossing.chance(found) == pytest.approx(p, abs=0.03)


def test_times_that_are_not_near_are_left_to_the_search() -> None:
    crossing = Crossing(0.05, 2e-4, 1e-6, 4e-10, 0.0, 9e-6, 20.0, 0.5, 0.05)
    assert crossing.times_near(1000.0, 1500.0, 2000.0, 1e5) is None
    assert crossing.times_near(1.0, 2.0, 3.0, 1e5) is None
    assert crossing.times_near(200.0, 200.0, 200.0, 1e5) is None
