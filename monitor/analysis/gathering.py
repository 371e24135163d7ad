"""Thins log-conductances to evenly spaced values for the forecast."""

import math
from typing import NamedTuple

BIN_S = 2.0
TOP_S = 6.0
"""Two or three strokes of a swab: one of them is in full contact."""
HIGHEST_OF = 3
"""Tops of which the forecast takes the highest: the fuller contacts crowd at the bath's own level,
so the highest of nine strokes scatters a third as much as that of three."""
TOP_HELD_S = 0.5
TOP_SHARE = 0.4
"""A top needs this share of its time in contact."""
TOPS_KEPT = 20
START_BINS = 5
START_TOPS = 3


class Value(NamedTuple):
    """One value for the forecast: its place on the grid, its time, log-conductance and volts."""

    place: int
    t_s: float
    x: float
    volts: float


class Gathering:
    """Means over two seconds for a tank, tops of a few seconds for swab work.

    Both are gathered until the first lift of a swab decides; the tops so far are then handed out
    at once. The start of the run is the median of the first five bins or three tops.

    Parameters
    ----------
    poll_s
        Seconds between polls; bins are at least one poll long.

    Examples
    --------
    >>> gathering = Gathering(poll_s=1.0)
    >>> for n in range(5):
    ...     values = gathering.update(n * 1.0, n * 0.01, 6.0)
    ...     print([(v.t_s, round(v.x, 3)) for v in values])
    []
    []
    [(0.5, 0.005)]
    []
    [(2.5, 0.025)]
    """

    __slots__ = (
        "_bin",
        "_bin_n",
        "_bin_t",
        "_bin_v",
        "_bin_x",
        "_held",
        "_highest",
        "_least",
        "_start",
        "_starts",
        "_top",
        "_tops",
        "_xs",
        "bin_s",
        "highest_s",
        "is_swab",
        "top_s",
    )

    def __init__(self, poll_s: float) -> None:
        self.bin_s = max(BIN_S, poll_s)
        self.top_s = max(TOP_S, 4.0 * poll_s)
        self.highest_s = HIGHEST_OF * self.top_s
        self._highest: Value | None = None
        self._held = max(1, round(TOP_HELD_S / poll_s))
        self._least = max(1, round(TOP_SHARE * self.top_s / poll_s))
        self.is_swab = False
        self._bin = -1
        self._bin_n = 0
        self._bin_t = self._bin_x = self._bin_v = 0.0
        self._top = -1
        self._xs: list[float] = []
        self._tops: list[Value] = []
        self._starts: list[Value] = []
        self._start: Value | None = None

    @property
    def start_x(self) -> float | None:
        """Log-conductance shortly after the start of the run; None while unknown."""
        return None if self._start is None else self._start.x

    def drop(self) -> None:
        """Forget what is not yet handed out: a stretch ends here."""
        self._bin = self._top = -1
        self._bin_n = 0
        self._bin_t = self._bin_x = self._bin_v = 0.0
        self._highest = None
        self._xs.clear()
        self._tops.clear()

    def shift(self, before_volts: float, after_volts: float) -> None:
        """Refer the start to a newly learned polarisation voltage."""

        def moved(value: Value) -> Value:
            above = value.volts - after_volts
            if above <= 0.0:
                return value
            return value._replace(x=value.x + math.log((value.volts - before_volts) / above))

        self._starts = [moved(value) for value in self._starts]
        if self._start is not None:
            self._start = moved(self._start)

    def begin_swab_work(self) -> list[Value]:
        """From now on hand out tops; returns those of this stretch so far."""
        self.is_swab = True
        tops, self._tops = self._tops, []
        if len(tops) >= START_TOPS:
            self._start = _median(tops[:START_TOPS])
        else:
            self._start, self._starts = None, list(tops)
        return tops

    def update(self, t_s: float, x: float, volts: float) -> list[Value]:
        """Take one log-conductance in contact; returns the values that it completes."""
        done: list[Value] = []
        place = int(t_s / self.bin_s)
        if place != self._bin:
            n = self._bin_n
            if n and not self.is_swab:
                value = Value(self._bin, self._bin_t / n, self._bin_x / n, self._bin_v / n)
                done.append(value)
                if self._start is None:
                    self._begin(value, START_BINS)
            self._bin = place
            self._bin_n = 0
            self._bin_t = self._bin_x = self._bin_v = 0.0
            top = int(t_s / self.top_s)
            if top != self._top:
                self._close_top(volts, done)
                self._top = top
        self._bin_n += 1
        self._bin_t += t_s
        self._bin_x += x
        self._bin_v += volts
        self._xs.append(x)
        return done

    def highest(self, top: Value) -> Value | None:
        """Take one top; returns the highest of `HIGHEST_OF` with their last, or with the next."""
        place = top.place // HIGHEST_OF
        highest, self._highest = self._highest, None
        if highest is not None and highest.place != place:
            done, highest = highest, None
        else:
            done = None
        if highest is None or top.x > highest.x:
            highest = Value(place, (place + 0.5) * self.highest_s, top.x, top.volts)
        if done is None and top.place % HIGHEST_OF == HIGHEST_OF - 1:
            return highest
        self._highest = highest
        return done

    def _close_top(self, volts: float, done: list[Value]) -> None:
        xs = self._xs
        if len(xs) >= self._least:
            xs.sort()
            middle_s = (self._top + 0.5) * self.top_s
            value = Value(self._top, middle_s, xs[-min(self._held, len(xs))], volts)
            if self.is_swab:
                done.append(value)
                if self._start is None:
                    self._begin(value, START_TOPS)
            else:
                self._tops.append(value)
                if len(self._tops) > TOPS_KEPT:
                    del self._tops[0]
        xs.clear()

    def _begin(self, value: Value, enough: int) -> None:
        self._starts.append(value)
        if len(self._starts) >= enough:
            self._start = _median(self._starts)
            self._starts = []


def _median(values: list[Value]) -> Value:
    return sorted(values, key=lambda value: value.x)[len(values) // 2]
