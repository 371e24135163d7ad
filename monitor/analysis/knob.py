"""Detects that the volts were turned up at once from a steady level."""

from dataclasses import dataclass

from monitor.analysis.bath_draw import BathDraw

UP = 1.3
"""Times the volts that stood; less is an everyday correction (common practice, no source)."""
AMPS_UP = 1.15
"""Less says that a supply has let go of the current, and not that a hand has turned."""
STANDS_S = 1.0
STANDS = 0.02
LATEST_S = 3.5
"""It is asked then, though the volts still move."""


@dataclass(frozen=True, slots=True)
class KnobMove:
    """From how many volts to how many."""

    from_volts: float
    to_volts: float


class KnobWatch:
    """Sees volts that jump up by a third and more, and the amps with them.

    Examples
    --------
    >>> watch, draw = KnobWatch(), BathDraw(1.0)
    >>> for second in range(16):
    ...     volts, amps = (6.0, 4.0) if second < 12 else (11.0, 9.0)
    ...     move = watch.update(float(second), volts, amps, draw)
    ...     if move is not None:
    ...         print(second, move.from_volts, move.to_volts)
    ...     draw.update(float(second), volts, amps)
    13 6.0 11.0
    """

    __slots__ = ("_began_s", "_from_volts", "_stood_s", "_volts")

    def __init__(self) -> None:
        self._from_volts: float | None = None
        self._began_s = self._stood_s = self._volts = 0.0

    @property
    def is_moving(self) -> bool:
        """Whether a move is under way."""
        return self._from_volts is not None

    def restart(self) -> None:
        """Nothing flows, or nobody looked."""
        self._from_volts = None

    def update(self, t_s: float, volts: float, amps: float, draw: BathDraw) -> KnobMove | None:
        """Take one sample with current; a move once it is over."""
        from_volts = self._from_volts
        if from_volts is None:
            if volts > UP * draw.volts and amps > AMPS_UP * draw.amps and draw.is_known(t_s):
                self._from_volts = draw.volts
                self._began_s = self._stood_s = t_s
                self._volts = volts
            return None
        if volts <= UP * from_volts:
            self._from_volts = None
            return None
        if abs(volts - self._volts) > STANDS * volts:
            self._stood_s, self._volts = t_s, volts
        if t_s - self._stood_s < STANDS_S and t_s - self._began_s < LATEST_S:
            return None
        self._from_volts = None
        draw.forget()
        return KnobMove(from_volts, volts)
