"""A seed in, slow coloured noise out: what a conductance does without a reason that one can name.

A first-order autoregression, the exact step of an Ornstein-Uhlenbeck process (Gillespie, Phys.
Rev. E 54, 2084 (1996), from memory): x' = a x + s sqrt(1 - a^2) n with a = exp(-dt / tau), so that
neither the spread nor the correlation time depends on the step.
"""

import math
import random


class Wander:
    """Noise with a spread and a memory.

    Parameters
    ----------
    spread
        Standard deviation of the value, its own unit.
    memory_s
        Correlation time, seconds.
    dt_s
        Step, seconds.
    random
        Where the draws come from: one each step.

    Examples
    --------
    >>> wander = Wander(0.01, 30.0, 0.05, random.Random("doc"))
    >>> round(wander.step(), 6) == round(wander.value, 6)
    True
    """

    def __init__(self, spread: float, memory_s: float, dt_s: float, random: random.Random) -> None:
        self._keep = math.exp(-dt_s / memory_s)
        self._kick = spread * math.sqrt(1.0 - self._keep**2)
        self._gauss = random.gauss
        self.value = spread * random.gauss(0.0, 1.0)

    def step(self) -> float:
        """Go one step on."""
        self.value = self._keep * self.value + self._kick * self._gauss(0.0, 1.0)
        return self.value
