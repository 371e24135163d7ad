"""Whether the amps stand so far over the stated limit that it cannot be the supply's."""

OVER_LIMIT = 1.1
OVER_FOR_S = 2.5
"""A supply that cuts out lets no amps stand over its limit for so long."""


class OverLimit:
    """Watches the amps against the limit that the settings name.

    Parameters
    ----------
    limit_amps
        What the settings name.

    Examples
    --------
    >>> over = OverLimit(10.0)
    >>> [over.update(float(second), 31.0) for second in range(4)]
    [False, False, False, True]
    >>> over.update(4.0, 10.5), over.update(5.0, 9.9)
    (True, False)
    """

    __slots__ = ("_limit_amps", "_since_s", "stands")

    def __init__(self, limit_amps: float) -> None:
        self._limit_amps = limit_amps
        self._since_s: float | None = None
        self.stands = False

    def update(self, t_s: float, amps: float) -> bool:
        """Take one sample."""
        if amps < (1.0 if self.stands else OVER_LIMIT) * self._limit_amps:
            self._since_s = None
            self.stands = False
        elif self._since_s is None:
            self._since_s = t_s
        else:
            self.stands = t_s - self._since_s >= OVER_FOR_S
        return self.stands
