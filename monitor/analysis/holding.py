"""Volts and amps in; whether a supply that limits is holding the current, out."""

from drivers.reading import Mode

_UNKNOWN = Mode.UNKNOWN
_CONSTANT_CURRENT = Mode.CONSTANT_CURRENT
"""Held here: in Python 3.11 finding a member in its class takes ten times as long."""

NEAR_SHARE = 0.985
"""Under this share of the limit no supply holds: its own meter is not that far off."""
AT_SHARE = 0.995
"""Smoothed amps that stand here stand at the limit, whatever the volts do."""
RELEASED_SHARE = 0.975
SAGGED = 0.005
"""Share of the volts that have gone since the amps came near: the supply has taken them back."""
SMOOTH_S = 3.0


class Holding:
    """Tells amps that are held at the limit from amps that have only come near it.

    Noise carries the amps to within a percent of the limit a minute before the supply begins to
    hold; the forecast is worth most just then. So without a word from the supply itself it holds
    where the smoothed amps stand at the limit, or near it with the volts fallen.

    Parameters
    ----------
    limit_amps
        Where the supply holds the current; None for one that cuts out, which must say so itself.

    Examples
    --------
    The amps come to 9.9 of 10 A; first the volts stand, then they give way:

    >>> holding = Holding(10.0)
    >>> [holding.update(t, 9.0, 9.0, Mode.UNKNOWN) for t in range(10)].count(True)
    0
    >>> [holding.update(10.0 + t, 9.0, 9.9, Mode.UNKNOWN) for t in range(9)].count(True)
    0
    >>> holding.update(19.0, 8.9, 9.9, Mode.UNKNOWN)
    True
    """

    __slots__ = (
        "_at",
        "_is_held",
        "_last_s",
        "_limits",
        "_near",
        "_released",
        "_smooth",
        "_volts",
    )

    def __init__(self, limit_amps: float | None) -> None:
        self._limits = limit_amps is not None
        most = limit_amps or 0.0
        self._near = NEAR_SHARE * most
        self._at = AT_SHARE * most
        self._released = RELEASED_SHARE * most
        self._smooth = 0.0
        self._volts = 0.0
        self._last_s = 0.0
        self._is_held = False

    def update(self, t_s: float, volts: float, amps: float, mode: Mode) -> bool:
        """Take one sample with the output on."""
        if mode is not _UNKNOWN or not self._limits:
            return mode is _CONSTANT_CURRENT
        gone_s, self._last_s = t_s - self._last_s, t_s
        self._smooth += (amps - self._smooth) * (gone_s / SMOOTH_S if gone_s < SMOOTH_S else 1.0)
        smooth = self._smooth
        if smooth < self._near:
            self._volts = volts
            if smooth < self._released:
                self._is_held = False
        elif smooth >= self._at or volts < (1.0 - SAGGED) * self._volts:
            self._is_held = True
        return self._is_held
