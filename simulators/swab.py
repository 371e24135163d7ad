"""How a hand-held swab touches the work: 1.0 is full contact, 0.0 is lifted off.

The operator wipes in strokes of a few seconds, each with a contact of its own, and lifts the swab
every so often to dip it. Contact follows the hand with a short lag.
"""

import random
from dataclasses import dataclass
from typing import Annotated

from simulators.form import Between


@dataclass(frozen=True, slots=True)
class Swab:
    """How the operator works with the swab.

    Parameters
    ----------
    stroke_s
        Mean length of one stroke, seconds.
    lift_every_s
        Mean time on the work between two lifts, seconds.
    lift_s
        Mean length of a lift, seconds.
    least_contact
        The worst contact of a stroke as a share of the best, 0 to 1.
    lag_s
        How fast contact follows the hand, seconds.
    """

    stroke_s: Annotated[float, Between(0.2, 60.0)] = 2.5
    lift_every_s: Annotated[float, Between(1.0, 3600.0)] = 40.0
    lift_s: Annotated[float, Between(0.2, 600.0)] = 4.0
    least_contact: Annotated[float, Between(0.05, 1.0)] = 0.75
    lag_s: Annotated[float, Between(0.05, 5.0)] = 0.2


class Strokes:
    """The hand that holds the swab; its draws depend on the seed and on the time alone."""

    def __init__(self, swab: Swab, dt_s: float, random: random.Random) -> None:
        self._swab = swab
        self._dt_s = dt_s
        self._random = random
        self._follow = min(dt_s / swab.lag_s, 1.0)
        self._aim = 1.0
        self._until_next_s = 0.0
        self._until_lift_s = self._about(swab.lift_every_s)
        self.contact = 0.0

    def step(self) -> float:
        """Go one step on."""
        self._until_next_s -= self._dt_s
        self._until_lift_s -= self._dt_s
        if self._until_next_s <= 0.0:
            self._next_move()
        self.contact += self._follow * (self._aim - self.contact)
        return self.contact

    def _next_move(self) -> None:
        swab = self._swab
        if self._until_lift_s <= 0.0:
            self._aim = 0.0
            self._until_next_s = self._about(swab.lift_s)
            self._until_lift_s = self._until_next_s + self._about(swab.lift_every_s)
            return
        # The root crowds the draws at full contact: a practised hand seldom wipes badly.
        self._aim = swab.least_contact + (1.0 - swab.least_contact) * self._random.random() ** 0.5
        self._until_next_s = self._about(swab.stroke_s)

    def _about(self, mean_s: float) -> float:
        return mean_s * (0.4 + self._random.gammavariate(3.0, 0.2))
