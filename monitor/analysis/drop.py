"""Detects a drop of the amps at steady volts, and their return.

A clip that goes bad and a part that is taken out look alike to two meters: both raise volts over
amps at once. Only one that comes back by itself and goes again is a loose connection.
"""

from dataclasses import dataclass

from monitor.analysis.bath_draw import BathDraw

FELL_AT_ONCE = 0.88
"""Share of the amps a second before: no end of a strip is so fast (common practice, no source)."""
NOISE_SD = 6.0
BACK = 0.94
STEADY = 0.94
"""Under this share of their level the amps were falling already: no step from a level."""
STAYS_S = 4.0
"""A drop of water, a knock, a stir are over by then."""
AGAIN_S = 300.0


@dataclass(frozen=True, slots=True)
class Drop:
    """A step of the amps at volts that stood; `times` counts those from the same level."""

    t_s: float
    volts: float
    from_amps: float
    to_amps: float
    times: int = 1

    def watts(self, intercept: float) -> float:
        """The most that a connection takes of the supply's watts, if it is one.

        >>> round(Drop(0.0, 8.0, 5.0, 4.0).watts(2.0), 1)
        4.8
        """
        above = max(self.volts - intercept, 0.0)
        return above * self.to_amps * (1.0 - self.to_amps / self.from_amps)


class DropWatch:
    """Sees a step down of the amps that stays for four seconds.

    Examples
    --------
    >>> watch, draw = DropWatch(), BathDraw(1.0)
    >>> for second in range(20):
    ...     amps = 5.0 if second < 12 else 3.9
    ...     drop = watch.update(float(second), 8.0, amps, draw)
    ...     if drop is not None:
    ...         print(drop.t_s, drop.from_amps, drop.to_amps)
    ...     if not watch.is_suspected:
    ...         draw.update(float(second), 8.0, amps)
    16.0 5.0 3.9
    """

    __slots__ = ("_began_s", "_from_amps", "_is_back", "_last", "_times", "is_suspected")

    def __init__(self) -> None:
        self.is_suspected = False
        self._began_s = self._from_amps = 0.0
        self._times = 1
        self._last: Drop | None = None
        self._is_back = False

    @property
    def is_waiting(self) -> bool:
        """Whether it has to see every sample, also those that have not fallen."""
        return self._last is not None or self.is_suspected

    def restart(self) -> None:
        """Nothing flows, or nobody looked."""
        self.is_suspected = self._is_back = False

    def update(self, t_s: float, volts: float, amps: float, draw: BathDraw) -> Drop | None:
        """Take one sample with current; a drop once it is sure. `draw` waits while suspected."""
        if not self.is_suspected:
            if self._last is not None:
                self._watch_its_return(self._last, t_s, amps)
            if draw.stands(volts) and self._is_step(t_s, amps, draw):
                self.is_suspected, self._began_s = True, t_s
            return None
        if amps > BACK * self._from_amps or not draw.stands(volts):
            self.is_suspected = False
            return None
        if t_s - self._began_s < STAYS_S:
            return None
        self._last = Drop(t_s, volts, self._from_amps, amps, self._times)
        self.is_suspected = self._is_back = False
        draw.forget()
        return self._last

    def _watch_its_return(self, last: Drop, t_s: float, amps: float) -> None:
        if t_s - last.t_s > AGAIN_S:
            self._last, self._is_back = None, False
        elif not self._is_back:
            self._is_back = amps > BACK * last.from_amps

    def _is_step(self, t_s: float, amps: float, draw: BathDraw) -> bool:
        last, before = self._last, draw.second_ago_amps
        if last is not None and self._is_back:
            # The level that it fell from is known, whatever has come between.
            self._from_amps, self._times = last.from_amps, last.times + 1
            return amps < FELL_AT_ONCE * last.from_amps
        self._from_amps, self._times = draw.amps, 1
        return (
            draw.is_known(t_s)
            and before is not None
            and before >= STEADY * draw.amps
            and amps <= FELL_AT_ONCE * before
            and amps < FELL_AT_ONCE * draw.amps
            and amps < draw.amps - NOISE_SD * draw.sd
        )
