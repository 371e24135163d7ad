"""Detects a jump of the amps at steady volts."""

from dataclasses import dataclass

from monitor.analysis.bath_draw import BathDraw

JUMPED = 1.25
"""A quarter more within a second is no bath's own doing (common practice, no source)."""
JUMPED_BY_HAND = 1.5
"""From the least contact of a swab that counts as one (`contact.LIFTED`) to the full is 1.43."""
NOISE_SD = 6.0
STAYS = 1.12
SURE_READINGS = 2
LONGEST_S = 300.0
"""After so long the new level counts as what hangs in the bath now."""


@dataclass(frozen=True, slots=True)
class Jump:
    """From how many amps to how many, and when."""

    t_s: float
    from_amps: float
    to_amps: float


class JumpWatch:
    """Sees metal that bridges part and counter-electrode, or a part that is hung in under current.

    Two readings decide; after the first, `suspected` stands, which tells a cut-out that leaves no
    second one.

    Parameters
    ----------
    limit_amps
        Where the supply cuts out or holds.

    Examples
    --------
    >>> watch, draw = JumpWatch(80.0), BathDraw(1.0)
    >>> for second in range(10):
    ...     draw.update(float(second), 9.0, 42.0)
    >>> watch.update(10.0, 9.0, 70.0, draw) is None
    True
    >>> jump = watch.update(11.0, 9.0, 70.5, draw)
    >>> jump.from_amps, jump.to_amps
    (42.0, 70.5)
    """

    __slots__ = ("_count", "now", "suspected")

    def __init__(self, limit_amps: float) -> None:
        self._count = 0
        self.now: Jump | None = None
        self.suspected: Jump | None = None

    def update(
        self, t_s: float, volts: float, amps: float, draw: BathDraw, is_swab: bool = False
    ) -> Jump | None:
        """Take one sample with current; `draw` is what the bath drew up to now."""
        now = self.now
        if now is not None:
            if t_s - now.t_s > LONGEST_S:
                draw.forget()
                self._clear()
            elif amps < STAYS * now.from_amps or not draw.stands(volts):
                self._clear()
            return self.now
        jumped = JUMPED_BY_HAND if is_swab else JUMPED
        # The cheapest question first: it settles nearly every sample.
        if (
            amps < jumped * draw.amps
            or not draw.is_known(t_s)
            or not draw.stands(volts)
            or amps < draw.amps + NOISE_SD * draw.sd
        ):
            self._count = 0
            if self.suspected is not None and draw.is_known(t_s):
                self.suspected = None
            return None
        self._count += 1
        self.suspected = Jump(t_s, draw.amps, amps)
        if self._count >= SURE_READINGS:
            self.now = self.suspected
        return self.now

    def _clear(self) -> None:
        self.now = self.suspected = None
        self._count = 0
