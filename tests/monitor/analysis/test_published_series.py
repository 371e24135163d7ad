"""Series that books reckon through, by the product's parts and by a library that rivals them."""

from statistics import fmean, stdev

import numpy as np
import pytest
import ruptures

from monitor.analysis.cusum import Cusum
from monitor.analysis.trend import Trend
from tests.monitor.analysis.test_trend import NILE


def test_the_nile_is_the_published_series() -> None:
    # 1871 to 1970: mean 919.35, standard deviation 169.2275 (statsmodels' data set "nile").
    assert fmean(NILE) == pytest.approx(919.35)
    assert stdev(NILE) == pytest.approx(169.2275, abs=5e-5)
    assert NILE[:5] == (1120, 1160, 963, 1210, 1160)


def test_the_lower_sum_tells_the_niles_fall_of_1898_four_years_later() -> None:
    # The flow fell after 1898 (Cobb, Biometrika 65 (1978) 243, from memory); baseline 1871 to
    # 1890, k 0.5, h 5: the first alarm is 1902 (computed from Page's recursion).
    baseline = NILE[:20]
    mean, sd = fmean(baseline), stdev(baseline)
    cusum, alarms = Cusum(0.5, 5.0), []
    for year, flow in enumerate(NILE, 1871):
        if cusum.update((flow - mean) / sd) < 0:
            alarms.append(year)
    assert alarms[0] == 1902
    assert all(year in alarms for year in range(1910, 1971))


def test_ruptures_cuts_the_nile_after_1898() -> None:
    # Least squares with one cut: 28 years at 1097.75, 72 at 849.9722, squares 1597457.19.
    signal = np.asarray(NILE, dtype=float)
    search = ruptures.Dynp(model="l2", min_size=2, jump=1).fit(signal)
    (cut, end) = search.predict(n_bkps=1)
    assert (1870 + cut, end) == (1898, 100)
    before, after = signal[:cut], signal[cut:]
    assert (before.mean(), after.mean()) == pytest.approx((1097.75, 849.9722), abs=5e-5)
    squares = ((before - before.mean()) ** 2).sum() + ((after - after.mean()) ** 2).sum()
    assert squares == pytest.approx(1597457.19, abs=0.01)


def test_the_nile_with_a_slope_ends_where_the_reference_library_says() -> None:
    # Local linear trend at variances 15099, 1469.1 and no walk of the slope, diffuse start:
    # level 789.1746, slope -3.350397 (computed with statsmodels' UnobservedComponents).
    trend = Trend(slope_sd=1e4, level_walk=1469.1, clip=1e9)
    trend.set_noise(15099.0, 0.0, 1.0)
    for year, flow in enumerate(NILE):
        trend.update(float(year), float(flow))
    assert trend.level == pytest.approx(789.1746, abs=0.02)
    assert trend.slope == pytest.approx(-3.350397, abs=5e-4)
