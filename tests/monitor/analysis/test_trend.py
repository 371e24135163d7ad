"""The filter against published figures and against the same model solved as one matrix."""

import math
from random import Random

import numpy as np
import pytest

from monitor.analysis.trend import Trend

# Annual flow of the Nile at Aswan 1871-1970 (typed from memory; its length and sum are checked).
NILE = (
    1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180,
    799, 958, 1140, 1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833,
    701, 916, 692, 1020, 1050, 969, 831, 726, 456, 824, 702, 1120, 1100, 832, 764, 821, 768, 845,
    864, 862, 698, 845, 744, 796, 1040, 759, 781, 865, 845, 944, 984, 897, 822, 1010, 771, 676,
    649, 846, 812, 742, 801, 1040, 860, 874, 848, 890, 744, 749, 838, 1050, 918, 986, 797, 923,
    975, 815, 1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740,
)  # fmt: skip


def test_a_noise_free_ramp_is_reproduced() -> None:
    # Durbin & Koopman 2012, local linear trend: 18 + 0.02 t, 60 points, ends at 19.18 and 0.0200.
    trend = Trend(slope_sd=1e3, clip=1e9)
    trend.set_noise(1e-12, 0.0, 1.0)
    for t in range(60):
        trend.update(float(t), 18.0 + 0.02 * t)
    assert trend.level == pytest.approx(19.18, abs=1e-6)
    assert trend.slope == pytest.approx(0.0200, abs=1e-8)


def test_the_nile_is_filtered_as_in_the_book() -> None:
    # Durbin & Koopman 2012, ch. 2: variances 15099 and 1469.1; gain, variances and last level
    # computed with statsmodels' UnobservedComponents at these parameters.
    assert (len(NILE), sum(NILE)) == (100, 91935)
    trend = Trend(slope_sd=0.0, level_walk=1469.1, clip=1e9)
    trend.set_noise(15099.0, 0.0, 1.0)
    for year, flow in enumerate(NILE):
        trend.update(float(year), float(flow))
    assert trend.level == pytest.approx(798.3703, abs=5e-4)
    assert trend.level_variance == pytest.approx(4032.158, abs=5e-3)
    assert (trend.level_variance + 1469.1) / (
        trend.level_variance + 1469.1 + 15099.0
    ) == pytest.approx(0.267048, abs=5e-6)


def test_uneven_steps_with_wander_agree_with_one_big_normal_law() -> None:
    """The same model as a joint normal distribution, conditioned with numpy."""
    draw = Random(3)
    times = np.cumsum([0.0] + [draw.choice([0.5, 1.0, 4.0]) for _ in range(39)])
    values = np.array([0.01 * t + draw.gauss(0.0, 0.3) for t in times])
    white, wander, memory_s, slope_sd, slope_walk = 0.04, 0.05, 6.0, 0.02, 1e-5
    wide = 1e6
    trend = Trend(slope_sd=slope_sd, slope_walk=slope_walk, clip=1e9)
    trend.set_noise(white, wander, memory_s)
    for t, value in zip(times, values, strict=True):
        trend.update(float(t), float(value))

    s, t = np.meshgrid(times, times)
    least, most = np.minimum(s, t), np.maximum(s, t)
    walked = slope_walk * (least**2 * most / 2.0 - least**3 / 6.0)
    line = wide + slope_sd**2 * s * t + walked
    cover = line + wander * np.exp(-np.abs(s - t) / memory_s) + white * np.eye(len(times))
    last = times[-1]
    to_level = (
        wide + slope_sd**2 * times * last + slope_walk * (times**2 * last / 2.0 - times**3 / 6.0)
    )
    to_slope = slope_sd**2 * times + slope_walk * times**2 / 2.0
    assert trend.level == pytest.approx(float(to_level @ np.linalg.solve(cover, values)), abs=1e-4)
    assert trend.slope == pytest.approx(float(to_slope @ np.linalg.solve(cover, values)), abs=1e-6)
    left = slope_sd**2 + slope_walk * last - to_slope @ np.linalg.solve(cover, to_slope)
    assert trend.slope_variance == pytest.approx(float(left), rel=1e-4)


def test_one_wild_value_moves_the_level_by_a_clipped_step_only() -> None:
    def level_after(value: float) -> float:
        trend = Trend(slope_sd=1e-4)
        trend.set_noise(1e-4, 0.0, 1.0)
        for t in range(100):
            trend.update(float(t), 1.0)
        trend.update(100.0, value)
        return trend.level

    assert level_after(1e6) == pytest.approx(level_after(1.0 + 100.0 * math.sqrt(1e-4)))
    assert level_after(1e6) < 1.01


def test_a_restart_keeps_as_much_of_the_slope_as_it_is_told_to() -> None:
    trend = Trend(slope_sd=0.1)
    trend.set_noise(1e-8, 0.0, 1.0)
    for t in range(50):
        trend.update(float(t), 0.05 * t)
    known = trend.slope_variance
    trend.restart(keep_slope=1.0)
    assert not trend.is_started
    assert trend.slope == pytest.approx(0.05, abs=1e-3)
    assert trend.slope_variance == known
    # An AR(1) of correlation 0.6: what is left of the value, and of its variance.
    trend.restart(keep_slope=0.6)
    assert trend.slope == pytest.approx(0.03, abs=1e-3)
    assert trend.slope_variance == pytest.approx(0.36 * known + 0.64 * 0.01)
    trend.restart()
    assert trend.slope == 0.0
