"""How many values a chart takes on average until it tells: the integral equations, solved.

Page's equation for a one-sided sum and Crowder's for a moving average, by Gauss-Legendre nodes
(Nystroem). Independent of the product; its digits are held against published ones in the tests.
"""

import math

import numpy as np
from numpy.polynomial.legendre import leggauss
from scipy import stats  # type: ignore[import-untyped]  # scipy ships no types

NODES = 120


def cusum_run(k: float, h: float, shift: float, head: float = 0.0) -> float:
    """Of the upper sum alone, started at `head`: L(u) = 1 + L(0) P(to 0) + integral."""
    places, weights = leggauss(NODES)
    y, w = 0.5 * h * (places + 1.0), 0.5 * h * weights
    at = np.concatenate(([0.0], y))
    to_zero = stats.norm.cdf(k - at - shift)
    onwards = stats.norm.pdf(y[None, :] + k - at[:, None] - shift) * w[None, :]
    left = np.eye(NODES + 1)
    left[:, 0] -= to_zero
    left[:, 1:] -= onwards
    runs = np.linalg.solve(left, np.ones(NODES + 1))
    from_head = stats.norm.pdf(y + k - head - shift) * w
    return float(1.0 + runs[0] * stats.norm.cdf(k - head - shift) + from_head @ runs[1:])


def two_sided(up: float, down: float) -> float:
    """Of two sums that are watched together: 1/L = 1/L_up + 1/L_down (Kemp 1961, from memory)."""
    return 1.0 / (1.0 / up + 1.0 / down)


def ewma_run(weight: float, limit: float, shift: float) -> float:
    """Of a moving average with limits at `limit` of its steady standard deviations, from 0."""
    edge = limit * math.sqrt(weight / (2.0 - weight))
    places, weights = leggauss(NODES)
    y, w = edge * places, edge * weights
    step = (y[None, :] - (1.0 - weight) * y[:, None]) / weight - shift
    kernel = stats.norm.pdf(step) * w[None, :] / weight
    runs = np.linalg.solve(np.eye(NODES) - kernel, np.ones(NODES))
    first = stats.norm.pdf(y / weight - shift) * w / weight
    return float(1.0 + first @ runs)


def siegmund_run(k: float, h: float, shift: float) -> float:
    """Siegmund's approximation of `cusum_run` (Siegmund 1985, from memory)."""
    drift, barrier = shift - k, h + 1.166
    if drift == 0.0:
        return barrier * barrier
    far = -2.0 * drift * barrier
    return (math.exp(far) - far - 1.0) / (2.0 * drift * drift)
