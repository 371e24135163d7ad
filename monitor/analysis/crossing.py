"""When the peaks of a wandering trend first reach a limit, with chances."""

import math

from monitor.analysis.passage import chance_by

NODES = (-2.3667594, -1.1544054, 0.0, 1.1544054, 2.3667594)
WEIGHTS = (0.03079092, 0.24038680, 0.45764456, 0.24038680, 0.03079092)
"""Gauss-Hermite quadrature of a standard normal, 7 points (Abramowitz & Stegun, table 25.10), less
the two outermost, which carry 0.05 % each."""
_NODES = tuple(zip(WEIGHTS, NODES, strict=True))
_OVER_ROOT_2 = math.sqrt(0.5)

LOWEST_SD = -3.0
STEP_SD = 0.25
# fmt: off
ESCAPE = (
    9.395, 8.136, 7.0, 5.982, 5.073, 4.267, 3.557, 2.936, 2.397, 1.934, 1.539, 1.207,
    0.9312, 0.7051, 0.5229, 0.3788, 0.2673, 0.183, 0.1212, 0.07724, 0.0472, 0.02752,
    0.01524, 0.007984, 0.003943, 0.001831, 0.0007989, 0.0003272, 0.000126, 4.556e-05,
    1.533e-05, 4.838e-06, 1.431e-06,
)
# fmt: on
"""Integral of the escape rate from -3 sd upwards in steps of 0.25; computed with scipy's pbdv."""
LOWEST_RATE = 5.3
FINER = 8

BETWEEN_LOOKS = 0.5826
"""A level looked at every d seconds is passed as one that stands 0.5826 s sqrt(d) higher would be
by the continuous path: Broadie, Glasserman & Kou, Math. Finance 7 (1997) 325 (from memory)."""

SHORTEST_S = 1.0
CLOSE = 0.01
SEARCH_STEPS = 12
BROWNIAN_MEMORIES = 2.0
NEAR = 0.05
"""From chances that are not further off one straight step leads within a percent or two."""
NEAR_STEPS = 3
FAR = 1.0
"""A time that has moved by more than this factor of e has not stayed near."""


def _straight(chance: float) -> float:
    """ln(-ln(1 - chance)), in which a law of a first passage is nearly straight over ln t."""
    return math.log(-math.log1p(-chance))


AT_LOW, AT_MEDIAN, AT_HIGH = _straight(0.1), _straight(0.5), _straight(0.9)


def _finer_table() -> tuple[float, ...]:
    """The table in steps of 1/32 sd, by a parabola through three logarithms."""
    logs = [math.log(value) for value in ESCAPE]
    table = []
    for i in range(len(logs) - 1):
        before = logs[i - 1] if i else 2.0 * logs[0] - logs[1]
        bend = logs[i + 1] - 2.0 * logs[i] + before
        for j in range(FINER):
            f = j / FINER
            table.append(
                math.exp(logs[i] + f * (logs[i + 1] - logs[i]) - 0.5 * bend * f * (1.0 - f))
            )
    return (*table, ESCAPE[-1], 0.0)


_TABLE = _finer_table()
_PER_SD = FINER / STEP_SD
_LAST = len(_TABLE) - 2


def escape(level_sd: float) -> float:
    """Integral, from a level upwards, of the rate at which a stationary AR(1) passes a level.

    Parameters
    ----------
    level_sd
        The level in standard deviations of the process; the rate is per memory of the process.

    Examples
    --------
    Where the rate is exactly 1 (at the mean) and 2 (one sd under it), the integral falls by that
    much per sd:

    >>> round((escape(-0.1) - escape(0.1)) / 0.2, 2)
    1.0
    >>> round((escape(-1.1) - escape(-0.9)) / 0.2, 2)
    2.0

    References
    ----------
    The rate is the lowest nu with D_nu(-level) = 0, D the parabolic cylinder function: Darling &
    Siegert, Ann. Math. Stat. 24 (1953) 624 (from memory). Far up it becomes Rice's rate,
    level * density(level).
    """
    place = (level_sd - LOWEST_SD) * _PER_SD
    if place <= 0.0:
        return _TABLE[0] - place / _PER_SD * LOWEST_RATE
    if place >= _LAST:
        return 0.0
    i = int(place)
    below = _TABLE[i]
    return below + (place - i) * (_TABLE[i + 1] - below)


class Crossing:
    """The law of the first time at which trend plus wander stands at the limit.

    Trips happen on peaks, so what counts is not when the mean arrives but when the first peak of
    the wander does. For one drift the chance by a time t is `1 - exp(-integral of the escape
    rate)` along the approaching mean, and never less than the chance to stand above the limit at
    t. Over times that are short against the wander's memory the wander is Brownian motion from
    where it stands now, and the first passage is inverse Gaussian. Both are mixed over the
    uncertainty of the drift, and of the distance as far as it goes with the drift.

    Parameters
    ----------
    distance
        From the level of the trend to the limit.
    drift
        Slope of the trend, 1/s.
    distance_variance, drift_variance, covariance
        Of the trend's level and slope.
    wander_variance, memory_s
        Of the noise about the trend.
    looked_at_every_s
        How long a peak must last to count, about.
    distance_now
        To the limit from the trend and the wander as they stand now.

    Examples
    --------
    2 % under the limit, rising 1 % a minute without doubt, hardly any wander: two minutes.

    >>> crossing = Crossing(0.02, 0.01 / 60, 0.0, 1e-14, 0.0, 1e-8, 10.0, 0.5, 0.02)
    >>> round(crossing.time_at(0.5, 60.0, 3600.0) / 120.0, 1)
    1.0
    >>> crossing.chance(60.0) < 0.001, crossing.chance(180.0) > 0.999
    (True, True)

    References
    ----------
    Leadbetter, Lindgren & Rootzen, Extremes and Related Properties of Random Sequences and
    Processes, 1983 (from memory). Chhikara & Folks, The Inverse Gaussian Distribution, 1989 (from
    memory).
    """

    __slots__ = (
        "_distance_now",
        "_drift",
        "_higher",
        "_memory_s",
        "_nodes",
        "_noise",
        "_sd",
    )

    def __init__(
        self,
        distance: float,
        drift: float,
        distance_variance: float,
        drift_variance: float,
        covariance: float,
        wander_variance: float,
        memory_s: float,
        looked_at_every_s: float,
        distance_now: float,
    ) -> None:
        drift_sd = math.sqrt(drift_variance)
        lean = covariance / drift_sd
        rest = distance_variance - lean * lean
        sd = math.sqrt(wander_variance + max(rest, 0.0))
        higher = BETWEEN_LOOKS * math.sqrt(2.0 * looked_at_every_s / memory_s)
        self._sd = sd
        self._memory_s = memory_s
        self._higher = higher = min(higher, 1.0)
        self._drift = drift
        nodes = []
        for weight, z in _NODES:
            level = (distance - z * lean) / sd
            nodes.append((weight, drift + z * drift_sd, level, escape(level + higher)))
        self._nodes = nodes
        self._noise = math.sqrt(2.0 * wander_variance / memory_s)
        self._distance_now = distance_now + higher * math.sqrt(wander_variance)

    def chance(self, t_s: float) -> float:
        """Chance that the limit has been reached by `t_s` seconds from now."""
        per_sd, memories, higher = t_s / self._sd, t_s / self._memory_s, self._higher
        table, from_sd = _TABLE, higher - LOWEST_SD
        total = 0.0
        for weight, drift, now, stay in self._nodes:
            moved = drift * per_sd
            then = now - moved
            if then < -4.0:
                total += weight
                continue
            if -0.01 < moved < 0.01:
                rate = (escape(now + higher - 0.05) - escape(now + higher + 0.05)) * 10.0
            else:
                # `escape`, written out: it is asked five times for each chance.
                place = (then + from_sd) * _PER_SD
                if place >= _LAST:
                    rate = -stay / moved
                elif place > 0.0:
                    i = int(place)
                    below = table[i]
                    rate = (below + (place - i) * (table[i + 1] - below) - stay) / moved
                else:
                    rate = (table[0] - place / _PER_SD * LOWEST_RATE - stay) / moved
            chance = 1.0 - math.exp(-rate * memories)
            if then < 2.0:
                above = 0.5 * math.erfc(then * _OVER_ROOT_2)
                if above > chance:
                    chance = above
            total += weight * chance
        if memories < BROWNIAN_MEMORIES:
            kept = math.exp(-memories)
            soon = chance_by(t_s, self._distance_now, self._drift, self._noise)
            total += kept * (soon - total)
        return total

    def times_near(
        self, low_s: float, median_s: float, high_s: float, longest_s: float
    ) -> tuple[float, float, float] | None:
        """Median, 10 % and 90 % point, where they have not moved far from these; else None.

        The three chances lie on one curve, nearly straight in ln t and ln(-ln(1 - chance)): where
        it stands at the times given tells where it passes the chances asked for.
        """
        if low_s < SHORTEST_S or median_s < 1.02 * low_s or high_s < 1.02 * median_s:
            return None
        for _ in range(NEAR_STEPS):
            a, b, c = self.chance(low_s), self.chance(median_s), self.chance(high_s)
            if not (0.01 < a < b < c < 0.999):
                return None
            off = max(abs(a - 0.1), abs(b - 0.5), abs(c - 0.9))
            if off < CLOSE:
                return median_s, low_s, high_s
            ya, yb, yc = math.log(low_s), math.log(median_s), math.log(high_s)
            ga, gb, gc = _straight(a), _straight(b), _straight(c)
            soon, late = (yb - ya) / (gb - ga), (yc - yb) / (gc - gb)
            to_low = (AT_LOW - ga) * soon
            to_median = (AT_MEDIAN - gb) * (soon if gb > AT_MEDIAN else late)
            to_high = (AT_HIGH - gc) * late
            if not (-FAR < to_low < FAR and -FAR < to_median < FAR and -FAR < to_high < FAR):
                return None
            low_s = math.exp(ya + to_low)
            median_s = math.exp(yb + to_median)
            high_s = math.exp(yc + to_high)
            if not low_s < median_s < high_s:
                return None
            if high_s > 4.0 * longest_s or median_s > longest_s or low_s < SHORTEST_S:
                return None
            if off < NEAR:
                return median_s, low_s, high_s
        return None

    def time_at(self, p: float, near_s: float, longest_s: float) -> float | None:
        """Time by which the chance has grown to `p`, seconds; None past `longest_s`.

        `near_s` is where to begin to look: a secant search on ln t and ln(-ln(1 - chance)), which
        go nearly in proportion, inside a bracket.
        """
        aim = math.log(-math.log1p(-p))
        low_s = high_s = 0.0
        y = math.log(min(max(near_s, SHORTEST_S), longest_s))
        y_last = miss_last = 0.0
        for step in range(SEARCH_STEPS):
            t_s = math.exp(y)
            chance = self.chance(t_s)
            if -CLOSE < chance - p < CLOSE:
                return t_s
            if chance < p:
                low_s = t_s
                if t_s >= 0.999 * longest_s:
                    return None
            else:
                high_s = t_s
                if t_s <= 1.001 * SHORTEST_S:
                    return t_s
            miss = math.log(-math.log1p(-min(max(chance, 1e-6), 1.0 - 1e-6))) - aim
            slope = 1.0
            if step and y != y_last:
                slope = max((miss - miss_last) / (y - y_last), 0.3)
            y_last, miss_last = y, miss
            y -= max(-1.0, min(1.0, miss / slope))
            if low_s and high_s and not math.log(low_s) < y < math.log(high_s):
                y = 0.5 * math.log(low_s * high_s)
            y = min(max(y, math.log(SHORTEST_S)), math.log(longest_s))
        return math.exp(y)
