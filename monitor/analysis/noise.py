"""The noise of evenly spaced values: its white part, its wander, and the wander's memory."""

import math

LAGS = (1, 2, 4, 8, 16, 32, 64)
STRIDES = (1, 1, 1, 2, 4, 8, 16)
"""At a long lag every difference is nearly the one before: four within a lag tell as much."""
RING = 2 * LAGS[-1] + 1
MEMORIES = (1.5, 3.0, 6.0, 12.0, 24.0, 48.0)
"""Memories tried, in steps of the grid."""
LONGEST_MEMORY = 600.0
"""The averages forget over this many steps."""
PRIOR_WEIGHT = 12.0
CLIP = 9.0
"""A squared second difference counts for at most this many times the average at its lag."""
SMALLEST_VARIANCE = 1e-9
FIT_EVERY = 30


def _second_difference_shares() -> tuple[tuple[float, ...], ...]:
    """Variance of the second difference of a unit AR(1), per memory and lag."""
    return tuple(
        tuple(6.0 - 8.0 * math.exp(-lag / m) + 2.0 * math.exp(-2.0 * lag / m) for lag in LAGS)
        for m in MEMORIES
    )


PLACES = tuple(zip(range(len(LAGS)), LAGS, STRIDES, strict=True))
_SHARES = _second_difference_shares()


class Noise:
    """White noise and slow wander, told apart by second differences at seven lags.

    `y[t] - 2 y[t-m] + y[t-2m]` cancels level and slope whatever they are, so the noise is learned
    while the bath drifts. Its variance is 6 w for white noise of variance w at every lag m, and
    u (6 - 8 r^m + 2 r^2m) for an AR(1) of variance u and correlation r per step; both are fitted
    to the seven averages by least squares over a few memories. `Trend` takes both as they are, so
    that the mean of correlated values is trusted no more than it deserves.

    Parameters
    ----------
    step_s
        Spacing of the grid.
    stated_white, stated_wander, stated_memory_s
        Variances and memory to assume until data have taken over.

    Examples
    --------
    White noise of standard deviation 0.01 on a ramp:

    >>> from random import Random
    >>> draw = Random(1)
    >>> noise = Noise(1.0, 1e-6, 1e-6, 10.0)
    >>> for i in range(600):
    ...     noise.update(i, 0.5 * i + draw.gauss(0.0, 0.01))
    >>> round(math.sqrt(noise.white + noise.wander), 3)
    0.01

    References
    ----------
    Structure functions of an AR(1): Box & Jenkins, Time Series Analysis, ch. 3 (from memory).
    Second differences against drift: von Neumann et al., Ann. Math. Stat. 12 (1941) 153-162
    (from memory).
    """

    __slots__ = (
        "_averages",
        "_index",
        "_ring",
        "_ring_index",
        "_since_fit",
        "_step_s",
        "_weights",
        "memory_s",
        "wander",
        "white",
    )

    def __init__(
        self, step_s: float, stated_white: float, stated_wander: float, stated_memory_s: float
    ) -> None:
        self._step_s = step_s
        self.white = stated_white
        self.wander = stated_wander
        self.memory_s = stated_memory_s
        memory = stated_memory_s / step_s
        self._averages = [
            6.0 * stated_white
            + stated_wander
            * (6.0 - 8.0 * math.exp(-lag / memory) + 2.0 * math.exp(-2.0 * lag / memory))
            for lag in LAGS
        ]
        self._weights = [PRIOR_WEIGHT for _ in LAGS]
        self._ring = [0.0] * RING
        self._ring_index = [-1] * RING
        self._since_fit = 0

    def forget_values(self) -> None:
        """Begin a new stretch: no difference is taken across, what was learned stays."""
        self._ring_index = [-1] * RING

    def update(self, index: int, value: float) -> None:
        """Take the value at grid place `index`; places may be left out."""
        ring, indices = self._ring, self._ring_index
        place = index % RING
        ring[place] = value
        indices[place] = index
        averages, weights = self._averages, self._weights
        for i, lag, stride in PLACES:
            if index % stride:
                continue
            middle = (index - lag) % RING
            first = (index - lag - lag) % RING
            if indices[middle] == index - lag and indices[first] == index - lag - lag:
                difference = value - 2.0 * ring[middle] + ring[first]
                square = difference * difference
                average = averages[i]
                if square > CLIP * average:
                    square = CLIP * average
                weight = weights[i]
                if weight < LONGEST_MEMORY:
                    weight += stride
                    weights[i] = weight
                averages[i] = average + (square - average) * stride / weight
        self._since_fit += 1
        if self._since_fit >= FIT_EVERY:
            self._since_fit = 0
            self._fit()

    def _fit(self) -> None:
        """Least squares of the relative misfit, over white and wander >= 0, per memory."""
        # A lag's average rests on about weight / lag independent differences.
        s11 = s1y = syy = 0.0
        rows = []
        for average, weight, lag in zip(self._averages, self._weights, LAGS, strict=True):
            over = 1.0 / max(SMALLEST_VARIANCE, average)
            trust = weight / lag
            flat = 6.0 * over
            s11 += trust * flat * flat
            s1y += trust * flat
            syy += trust
            rows.append((over, trust, trust * flat))
        best = math.inf
        for memory, shares in zip(MEMORIES, _SHARES, strict=True):
            s12 = s22 = s2y = 0.0
            for (over, trust, leaning), share in zip(rows, shares, strict=True):
                curve = share * over
                s12 += leaning * curve
                curve_trust = trust * curve
                s2y += curve_trust
                s22 += curve_trust * curve
            determinant = s11 * s22 - s12 * s12
            white = wander = -1.0
            if determinant > 1e-9 * s11 * s22:
                white = (s1y * s22 - s2y * s12) / determinant
                wander = (s2y * s11 - s1y * s12) / determinant
            if white < 0.0:
                white, wander = 0.0, s2y / s22
            elif wander < 0.0:
                white, wander = s1y / s11, 0.0
            misfit = (
                white * (white * s11 + 2.0 * (wander * s12 - s1y))
                + wander * (wander * s22 - 2.0 * s2y)
                + syy
            )
            if misfit < best:
                best = misfit
                self.white, self.wander = white, wander
                self.memory_s = memory * self._step_s
        self.white = max(self.white, SMALLEST_VARIANCE)
