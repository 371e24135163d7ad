"""Detects that somebody changes the volts, and how the cell responds."""

MOVED_VOLTS = 0.12
MOVED_SHARE = 0.012
"""A move larger than this, or than this share of the volts, is no longer regulation or noise."""
STILL_S = 2.0
"""The volts must have stood still for so long before the change counts as over."""
FOLLOW_PER_S = 0.05
RAMP_POINTS = 32


class VoltsSet:
    """Watches for changes of the volts by the operator or by a soft start.

    Parameters
    ----------
    still_s
        Seconds that the volts must stand still after a change.

    Examples
    --------
    >>> watched = VoltsSet()
    >>> [watched.update(t * 0.5, v, 5.0) for t, v in enumerate([6.0, 6.0, 9.0, 9.0, 9.0])]
    [True, True, False, False, False]
    >>> [watched.update(t * 0.5, 9.0, 8.0) for t in (5, 6, 7)]
    [False, True, True]
    """

    __slots__ = ("_last_s", "_moved_s", "_still_s", "before", "is_moving", "ramp", "volts")

    def __init__(self, still_s: float = STILL_S) -> None:
        self._still_s = still_s
        self.volts: float | None = None
        self._last_s = 0.0
        self._moved_s = 0.0
        self.is_moving = False
        self.before: float | None = None
        self.ramp: list[tuple[float, float]] = []

    def restart(self) -> None:
        """Forget the volts, such as after a gap; the next sample opens a new stretch."""
        self.volts = None
        self.is_moving = False
        self.before = None
        self.ramp.clear()

    def begin_ramp(self, t_s: float) -> None:
        """The output comes on from nothing: a change until the volts stand still."""
        self.volts = 0.0
        self.before = None
        self.is_moving = True
        self._moved_s = self._last_s = t_s
        self.ramp.clear()

    def update(self, t_s: float, volts: float, amps: float) -> bool:
        """Take one sample; True while the volts stand as they were set."""
        known = self.volts
        if known is None:
            self.volts = volts
            self._last_s = t_s
            return True
        move = volts - known
        most = MOVED_SHARE * known
        if most < MOVED_VOLTS:
            most = MOVED_VOLTS
        if move > most or move < -most:
            if not self.is_moving:
                self.is_moving = True
                self.before = known
                self.ramp.clear()
            self.volts = volts
            self._moved_s = self._last_s = t_s
            if len(self.ramp) < RAMP_POINTS:
                self.ramp.append((volts, amps))
            return False
        if self.is_moving:
            self.volts = volts
            if t_s - self._moved_s < self._still_s:
                return False
            self.is_moving = False
            self._last_s = t_s
            return True
        share = FOLLOW_PER_S * (t_s - self._last_s)
        self.volts = known + move * min(share, 1.0)
        self._last_s = t_s
        return True
