"""Detects the end of a strip: the log-conductance settles at a new level.

No sign is published for the change at the end of an alkaline strip at constant volts: the end
point of the coulometric methods is a change of cell voltage (ASTM B764, ISO 2177), and which way
the amps go depends on what the bared nickel does instead. So a fall and a rise count alike, and
the operator has the last word.
"""

from dataclasses import dataclass

BLOCK_S = 4.0
SLOPE_BLOCKS = 6
LINE_BLOCKS = 20
LEAST_LINE = 6
"""Blocks: of a mean; of the slope now; of the line before a change, at most and at least."""
KEPT_BLOCKS = 75
LONGEST_BLOCKS = 45
"""Three minutes: a slower change is the bath's."""

LEAST_SLOPE = 0.06 / 60.0
"""A change worth a look goes faster than 6 % a minute at its fastest."""
LEAST_FALL = 0.045
LEAST_RISE = 0.06
MOST_CHANGE = 0.4
"""Less is the bath's own wander, which warming helps upwards; more is a lead or another part."""
LEAST_SDS = 6.0
LEVEL_SHARE = 0.2
"""Levelled off: slower than this share of the change's own fastest."""
SHARP_SHARE = 0.7
"""More of the change than this between two blocks is a contact; chromium goes in patches."""
TIMES_THE_CHANGE = 2.0
"""So much more charge must lie before a change than within it: the end is the end of something."""
SHARE_OF_LAST = 0.4
"""A next part needs at least this share of the charge that the last one took."""


@dataclass(frozen=True, slots=True)
class Finish:
    """The change that looked like the end of the strip.

    Parameters
    ----------
    change
        Of ln(conductance), negative for a fall.
    began_s, t_s
        When the change began and when it had levelled off, seconds.
    amp_hours
        Charge since the run's start, or since the finish before.
    is_at_rest
        Whether it was seen to have levelled off.
    guide_amp_hours
        Faraday's charge for the chromium, to be shown beside it; None where not known.
    """

    change: float
    began_s: float
    t_s: float
    amp_hours: float
    is_at_rest: bool = True
    guide_amp_hours: float | None = None


class FinishWatch:
    """Watches for a change of conductance that comes after enough charge, and levels off.

    Means over four seconds (or the tops of swab strokes) are held against the straight line of
    those before. A change begins where the slope leaves the band between that line's slope and
    none at all; it is over when the slope is back. What lies between the last level and the line
    carried on is no change: a bath that stops warming comes to rest there.

    Parameters
    ----------
    least_amp_hours
        Faraday's charge for the chromium; None where unknown. A guide: with it passed, the charge
        before the change is enough; without, as much must lie before it as twice that within it. It
        never forbids an end: classes of thickness are minima (ISO 1456, ASTM B456), deposits flake.

    A change at once is no end but a contact; `step` tells it, after the update that saw it settle.

    Examples
    --------
    Five amps for ten minutes; the conductance falls by 8 % between 300 and 360 s:

    >>> watch = FinishWatch()
    >>> for t in range(600):
    ...     x = -0.08 * min(max((t - 300) / 60, 0.0), 1.0)
    ...     finish = watch.update(float(t), x, t * 5 / 3600, 0.002)
    ...     if finish is not None:
    ...         print(finish.t_s > 350, round(finish.change, 2))
    True -0.08

    References
    ----------
    ASTM B504 and B764, ISO 2177: the end point is a sudden change, and poor agitation can fake one
    by polarisation, hence the new level must last.
    """

    __slots__ = (
        "_ah_at_finish",
        "_ahs",
        "_last_amp_hours",
        "_n",
        "_sds",
        "_slopes",
        "_slow",
        "_sum_t",
        "_sum_x",
        "_ts",
        "_until_s",
        "_xs",
        "least_amp_hours",
        "step",
    )

    def __init__(self, least_amp_hours: float | None = None) -> None:
        self.least_amp_hours = least_amp_hours
        self._ah_at_finish = 0.0
        self._last_amp_hours: float | None = None
        self._ts: list[float] = []
        self._xs: list[float] = []
        self._ahs: list[float] = []
        self._sds: list[float] = []
        self._slopes: list[float] = []
        self._sum_t = self._sum_x = 0.0
        self._n = 0
        self._until_s: float | None = None
        self._slow = 0
        self.step: float | None = None

    def restart(self) -> None:
        """Begin a new line: the volts were changed, the output was off, or data were missing."""
        for values in (self._ts, self._xs, self._ahs, self._sds, self._slopes):
            values.clear()
        self._sum_t = self._sum_x = 0.0
        self._n = self._slow = 0
        self._until_s = None

    def update(self, t_s: float, x: float, amp_hours: float, sd: float) -> Finish | None:
        """Take one log-conductance, the charge so far and the noise's standard deviation."""
        finish = self.step = None
        until_s = self._until_s
        if until_s is None:
            self._until_s = t_s + BLOCK_S
        elif t_s >= until_s:
            n = self._n
            self._until_s = max(until_s + BLOCK_S, t_s)
            self._ts.append(self._sum_t / n)
            self._xs.append(self._sum_x / n)
            self._ahs.append(amp_hours)
            self._sds.append(sd)
            self._sum_t = self._sum_x = 0.0
            self._n = 0
            finish = self._look()
        self._sum_t += t_s
        self._sum_x += x
        self._n += 1
        return finish

    def _look(self) -> Finish | None:
        ts, xs, slopes = self._ts, self._xs, self._slopes
        if len(xs) < SLOPE_BLOCKS:
            slopes.append(0.0)
            return None
        slope = fit(ts[-SLOPE_BLOCKS:], xs[-SLOPE_BLOCKS:])[2]
        slopes.append(slope)
        if len(xs) > KEPT_BLOCKS:
            for values in (ts, xs, self._ahs, self._sds, slopes):
                del values[0]
        steepest = max(slopes[-LONGEST_BLOCKS:], key=abs)
        sign = 1.0 if steepest > 0.0 else -1.0
        is_changing = abs(steepest) >= LEAST_SLOPE
        if not is_changing or sign * slope > LEVEL_SHARE * abs(steepest):
            self._slow = 0
            return None
        self._slow += 1
        if self._slow < 2:
            return None
        finish = self._change(sign, steepest)
        if finish is None:
            if self.step is not None:
                self.restart()
            return None
        self._last_amp_hours = finish.amp_hours
        self._ah_at_finish = self._ahs[-1]
        self.restart()
        return finish

    def _change(self, sign: float, steepest: float) -> Finish | None:
        """The change that has just come to rest, if it is one to tell of."""
        ts, xs, slopes = self._ts, self._xs, self._slopes
        first = len(slopes) - 1 - slopes[::-1].index(steepest)
        while first > 0 and sign * slopes[first] > LEVEL_SHARE * abs(steepest):
            first -= 1
        # The slope there is that of the blocks up to it: the change begins where it began to turn.
        line_ends = first
        line_starts = max(0, line_ends - LINE_BLOCKS)
        if line_ends - line_starts < LEAST_LINE:
            return None
        middle_s, level, line_slope = fit(ts[line_starts:line_ends], xs[line_starts:line_ends])
        before = level + line_slope * (ts[line_ends] - middle_s)
        gone_on = line_slope * (ts[-2] - ts[line_ends])
        change = _outside(sum(xs[-3:]) / 3.0 - before, gone_on)
        size = abs(change)
        least = max(LEAST_RISE if sign > 0.0 else LEAST_FALL, LEAST_SDS * self._sds[line_ends])
        if change * sign < 0.0 or not least <= size <= MOST_CHANGE:
            return None
        sharpest = max(abs(xs[i] - xs[i - 2]) for i in range(line_ends, len(xs)))
        if sharpest > SHARP_SHARE * size:
            self.step = change
            return None
        finish = Finish(
            change,
            ts[line_ends],
            ts[-1],
            self._ahs[-1] - self._ah_at_finish,
            guide_amp_hours=self.least_amp_hours,
        )
        return finish if self._has_charge(finish, self._ahs[line_ends]) else None

    def _has_charge(self, finish: Finish, ah_at_change: float) -> bool:
        if self.least_amp_hours is not None and finish.amp_hours >= self.least_amp_hours:
            return True
        before = ah_at_change - self._ah_at_finish
        if self._last_amp_hours is not None and before < SHARE_OF_LAST * self._last_amp_hours:
            return False
        return before >= TIMES_THE_CHANGE * (finish.amp_hours - before)


def _outside(value: float, edge: float) -> float:
    """How far a value lies outside the band between nothing and an edge."""
    low, high = (edge, 0.0) if edge < 0.0 else (0.0, edge)
    if value > high:
        return value - high
    return value - low if value < low else 0.0


def fit(ts: list[float], xs: list[float]) -> tuple[float, float, float]:
    """Middle time, mean and slope of the straight line of least squares."""
    n = len(ts)
    sum_t = sum_x = across = along = 0.0
    for t, x in zip(ts, xs, strict=True):
        sum_t += t
        sum_x += x
    middle, mean = sum_t / n, sum_x / n
    for t, x in zip(ts, xs, strict=True):
        off = t - middle
        across += off * (x - mean)
        along += off * off
    return middle, mean, across / along
