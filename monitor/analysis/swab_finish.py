"""Detects the end of a strip in swab work: the tops of the strokes fall to a new level.

A stroke's top scatters by some 3 %, as much as half of the whole change; so the means of a few
seconds that tell a tank's end tell nothing here. A cumulative sum over a minute or two does.
"""

from typing import NamedTuple

from monitor.analysis.cusum import Cusum
from monitor.analysis.finish import (
    LEAST_FALL,
    MOST_CHANGE,
    SHARE_OF_LAST,
    Finish,
    fit,
)

K = 1.0
H = 12.0
"""For falls of two standard deviations and more. By the tables, which are of independent values, no
false alarm would ever come; with simulated hands two came in 37 hours, and one end in two is told.
A smaller k or h tells some more ends, and three or four times as many that are none."""
LAG = 10
"""Tops that the line leaves out at its end: a fall that begins slowly must not bend it."""
LINE = 80
LEAST_LINE = 30
LEVEL = 20
LAST = 10
LEAST_LAST = 6
"""Tops of which a fall's size is the mean, at most and at least."""
LEAST_SES = 4.0
LEAST_SD = 0.004
LONGEST = 60
"""Tops: a sum that stands up so long without a clear fall is another level of the hand."""


class _Line(NamedTuple):
    """What the tops came from: a straight line's end, the level there, its slope, their scatter."""

    end_s: float
    level: float
    slope: float
    sd: float
    tops: int

    def fall(self, t_s: float, x: float) -> float:
        """How far a later value lies under the level and a falling line; 0 where it does not."""
        return min(x - self.level - min(self.slope * (t_s - self.end_s), 0.0), 0.0)


class SwabFinish:
    """Watches the tops for a fall under the straight line of those before.

    Only a fall is told: a swab's bath warms and dries so fast that a rise says nothing, though no
    sign is published for the change at the end of a strip. Whether the fall has come to rest
    cannot be seen for the scatter; the operator, whose hand is on the work, sees it.

    Parameters
    ----------
    least_amp_hours
        Faraday's charge for the chromium; None where unknown. A guide: with it passed, the charge
        before the fall is enough; without, as much must lie before it as within it. It never
        forbids an end, see `FinishWatch`.

    Examples
    --------
    A top every six seconds, 3 % of scatter, and 12 % less after the 60th:

    >>> watch, scatter = SwabFinish(), (0.02, -0.04, 0.03, -0.01, 0.0)
    >>> for n in range(90):
    ...     x = scatter[n % 5] - (0.12 if n >= 60 else 0.0)
    ...     finish = watch.update(6.0 * n, x, n / 100, 0.03)
    ...     if finish is not None:
    ...         print(n, round(finish.change, 2))
    65 -0.12

    References
    ----------
    Page 1954, see `Cusum`.
    """

    __slots__ = (
        "_ah_at_finish",
        "_ahs",
        "_cusum",
        "_last_amp_hours",
        "_line",
        "_ts",
        "_xs",
        "least_amp_hours",
    )
    step = None
    """A contact that jumps cannot be told from the hand."""

    def __init__(self, least_amp_hours: float | None = None) -> None:
        self.least_amp_hours = least_amp_hours
        self._cusum = Cusum(K, H)
        self._ts: list[float] = []
        self._xs: list[float] = []
        self._ahs: list[float] = []
        self._line: _Line | None = None
        self._ah_at_finish = 0.0
        self._last_amp_hours: float | None = None

    def restart(self) -> None:
        """Begin a new line: the volts were changed, the output was off, or data were missing."""
        for values in (self._ts, self._xs, self._ahs):
            values.clear()
        self._line = None
        self._cusum.restart()

    def update(self, t_s: float, x: float, amp_hours: float, sd: float) -> Finish | None:
        """Take one top and the charge so far; `sd` is that of the tops' noise, as a least one."""
        ts, xs, ahs = self._ts, self._xs, self._ahs
        ts.append(t_s)
        xs.append(x)
        ahs.append(amp_hours)
        cusum = self._cusum
        if cusum.low == 0.0 or self._line is None:
            self._draw_line()
        if len(xs) > LINE + LONGEST + LAG:
            for values in (ts, xs, ahs):
                del values[0]
        if self._line is None:
            return None
        if cusum.update(self._line.fall(t_s, x) / self._line.sd) < 0:
            finish = self._fall(cusum.falling_for)
            if finish is not None:
                self._last_amp_hours, self._ah_at_finish = finish.amp_hours, amp_hours
                self.restart()
                return finish
        if cusum.falling_for > LONGEST:
            self.restart()
        return None

    def _draw_line(self) -> None:
        """Through the tops before the last few."""
        ts, xs = self._ts[-LINE - LAG : -LAG], self._xs[-LINE - LAG : -LAG]
        if len(xs) < LEAST_LINE:
            return
        middle, level, slope = fit(ts, xs)
        off = sum((x - level - slope * (t - middle)) ** 2 for t, x in zip(ts, xs, strict=True))
        sd = max((off / (len(xs) - 2)) ** 0.5, LEAST_SD)
        # A bath that comes to rest bends under its line; the last tops are a lower level then.
        at_end = min(level + slope * (ts[-1] - middle), sum(xs[-LEVEL:]) / LEVEL)
        self._line = _Line(ts[-1], at_end, slope, sd, len(xs))

    def _fall(self, tops: int) -> Finish | None:
        n, line = min(tops, LAST), self._line
        if n < LEAST_LAST or line is None:
            return None
        change = line.fall(sum(self._ts[-n:]) / n, sum(self._xs[-n:]) / n)
        # The end of a line through m values has four times the variance of their mean.
        least = max(LEAST_FALL, LEAST_SES * line.sd * (1.0 / n + 4.0 / line.tops) ** 0.5)
        if not least <= -change <= MOST_CHANGE:
            return None
        before_ah = self._ahs[-tops] - self._ah_at_finish
        amp_hours = self._ahs[-1] - self._ah_at_finish
        guide_ah = self.least_amp_hours
        least_ah = SHARE_OF_LAST * (self._last_amp_hours or 0.0)
        has_charge = before_ah >= max(amp_hours - before_ah, least_ah)
        if not has_charge and (guide_ah is None or amp_hours < guide_ah):
            return None
        began_s, ended_s = self._ts[-tops], self._ts[-1]
        return Finish(change, began_s, ended_s, amp_hours, False, guide_ah)
