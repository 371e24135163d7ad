"""The line through the last 300 s, against the least squares of numpy."""

from random import Random

import numpy as np
import pytest

from benchmarks.forecast_rivals import LONG_LINE, RIVALS


def told(points: list[tuple[float, float]]) -> float | None:
    line = RIVALS[LONG_LINE]()
    for t_s, share in points:
        line.update(t_s, share)
    return line.trip_in_s


def crossing_in(points: list[tuple[float, float]]) -> float:
    times, shares = np.array(points).T
    slope, start = np.polyfit(times, shares, 1)
    return float((1.0 - start) / slope - times[-1])


@pytest.mark.parametrize("seconds", [30, 300, 900], ids=["all there is", "300 s", "the last 300 s"])
def test_the_line_is_least_squares_over_true_times(seconds: int) -> None:
    draw = Random(seconds)
    points = [
        (t + 0.5, 0.7 + 0.0002 * t + draw.gauss(0.0, 0.001))
        for t in range(seconds)
        if not 4 <= t % 50 < 12
    ]
    last = [point for point in points if point[0] > points[-1][0] - 300.0]
    assert told(points) == pytest.approx(crossing_in(last), rel=1e-6)


def test_a_line_that_falls_never_crosses() -> None:
    assert told([(t + 0.5, 0.9 - 0.0001 * t) for t in range(400)]) is None
