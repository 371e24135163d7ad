"""What the bath draws while the volts stand: the level that a short or a jump is held against."""

import math
from collections import deque

from monitor.model.sample import longest_step_s

MOVED_VOLTS = 0.12
MOVED_SHARE = 0.012
"""A move of the volts larger than both is no longer regulation or noise."""
MEMORY_S = 8.0
LATEST_S = 1.0
"""The newest second is left out of the level, so that a jump does not lift what it is held to."""
KNOWN_S = 3.0
"""For so long after its last reading a level is still that of the bath."""
SETTLED_S = 4.0
LEAST_READINGS = 3


class BathDraw:
    """The mean amps, and their scatter, at the volts that stand.

    A level is known once the volts have stood for 4 s and three readings; it ends when they move,
    when nothing flows, and when no reading came for 3 s and three and a half polls. A level that
    ended is still told for 3 s, since the bath is the same then.

    Parameters
    ----------
    poll_s
        Seconds between polls.

    Examples
    --------
    >>> draw = BathDraw(1.0)
    >>> for second in range(10):
    ...     draw.update(float(second), 9.0, 5.0)
    >>> draw.volts, draw.amps, draw.is_known(10.0)
    (9.0, 5.0, True)
    """

    __slots__ = (
        "_added_s",
        "_count",
        "_highest_volts",
        "_known_square",
        "_known_until_s",
        "_last_s",
        "_latest",
        "_longest_s",
        "_lowest_volts",
        "_mean_amps",
        "_mean_volts",
        "_since_s",
        "_square",
        "amps",
        "volts",
    )

    def __init__(self, poll_s: float) -> None:
        self._longest_s = longest_step_s(poll_s, KNOWN_S)
        self._latest: deque[tuple[float, float]] = deque()
        self._last_s: float | None = None
        self._since_s = 0.0
        self._count = 0
        self._added_s = 0.0
        self._mean_volts = self._mean_amps = self._square = 0.0
        self.volts = self.amps = self._known_square = 0.0
        self._lowest_volts, self._highest_volts = -MOVED_VOLTS, MOVED_VOLTS
        self._known_until_s = -math.inf

    @property
    def second_ago_amps(self) -> float | None:
        """The amps a second or one reading ago; None where the volts have just moved."""
        return self._latest[0][1] if self._latest else None

    @property
    def sd(self) -> float:
        """Scatter of the amps about their mean."""
        return math.sqrt(self._known_square)

    def is_known(self, t_s: float) -> bool:
        """Whether the level is the bath's at that time."""
        return t_s <= self._known_until_s

    def stands(self, volts: float) -> bool:
        """Whether these volts are those of the level."""
        return self._lowest_volts <= volts <= self._highest_volts

    def holds(self, t_s: float, volts: float) -> bool:
        """Whether the level is the bath's at that time, and these volts are those of the level."""
        return t_s <= self._known_until_s and self._lowest_volts <= volts <= self._highest_volts

    def forget(self) -> None:
        """Nothing flows, or another bath hangs there: what was drawn says nothing of it."""
        self._last_s, self._known_until_s = None, -math.inf

    def update(self, t_s: float, volts: float, amps: float) -> None:
        """Take a reading with current; what is held against the level is asked before."""
        # Written out, without calls: this comes with every sample.
        last_s, self._last_s = self._last_s, t_s
        known_volts = self._mean_volts
        move = volts - known_volts
        most = MOVED_SHARE * known_volts
        if most < MOVED_VOLTS:
            most = MOVED_VOLTS
        if last_s is None or t_s - last_s > self._longest_s or move > most or move < -most:
            self._since_s, self._count, self._mean_volts = t_s, 0, volts
            self._latest.clear()
        else:
            self._mean_volts = known_volts + 0.1 * move
        latest = self._latest
        latest.append((t_s, amps))
        while t_s - latest[0][0] >= LATEST_S:
            self._add(*latest.popleft())

    def _add(self, t_s: float, amps: float) -> None:
        count = self._count = self._count + 1
        if count == 1:
            self._mean_amps, self._square = amps, 0.0
        else:
            share = (t_s - self._added_s) / MEMORY_S
            if share * count < 1.0:
                share = 1.0 / count
            elif share > 1.0:
                share = 1.0
            off = amps - self._mean_amps
            self._mean_amps += share * off
            self._square += share * (off * off - self._square)
        self._added_s = t_s
        last_s = self._last_s
        if count < LEAST_READINGS or last_s is None or t_s - self._since_s < SETTLED_S - LATEST_S:
            return
        volts = self.volts = self._mean_volts
        self.amps, self._known_square = self._mean_amps, self._square
        self._known_until_s = last_s + self._longest_s
        most = MOVED_SHARE * volts
        if most < MOVED_VOLTS:
            most = MOVED_VOLTS
        self._lowest_volts, self._highest_volts = volts - most, volts + most
