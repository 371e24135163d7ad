"""The sizes of one scene, drawn from a seed.

Ranges are common practice, no source: supplies of 3 to 60 A, 4 to 12 V, meters of 0.001 to 0.1 A,
0.5 to 10 polls a second. The intercept E0 of 1.4 to 2.8 V covers what oxygen, hydrogen and the
oxidation of chromium ask for in caustic, with the overpotentials of bare steel and nickel.
"""

import math
import random
from dataclasses import dataclass

RATES_HZ = (0.5, 1.0, 2.0, 4.0, 5.0, 10.0)
AMPS_STEPS = (0.001, 0.01, 0.1)


@dataclass
class Draw:
    """One bench, before anything happens at it.

    Parameters
    ----------
    limit_amps
        Where the supply cuts out or holds.
    volts, amps
        Of the steady strip.
    e0_volts
        The intercept of the straight line through volts and amps near the steady point.
    b_volts
        Slope of both electrodes' Tafel lines together, volts per factor e.
    layer_s
        Time constant of the double layers and of what is adsorbed at the electrodes.
    bubble_share, bubble_s
        Noise of the gas coverage: share of the amps, and memory.
    warm_per_hour
        Slow change of the conductance: share per hour, of either sign.
    """

    random: random.Random
    limit_amps: float
    volts: float
    amps: float
    e0_volts: float
    b_volts: float
    layer_s: float
    rest_s: float
    bubble_share: float
    bubble_s: float
    warm_per_hour: float
    rate_hz: float
    amps_step: float
    volts_step: float
    soft_start_s: float
    trip_delay_s: float
    loop_s: float
    crossover_s: float
    crossover_damping: float
    output_decay_s: float
    meter_update_s: float
    meter_filter_s: float
    meter_skew_s: float
    amps_offset: float
    volts_offset: float
    missed_share: float

    @property
    def poll_s(self) -> float:
        """Seconds between polls."""
        return 1.0 / self.rate_hz

    @property
    def share(self) -> float:
        """Steady amps as a share of the limit."""
        return self.amps / self.limit_amps

    def take_share(self, low: float, high: float) -> None:
        """Let the steady amps be another share of the limit."""
        self.amps = self.limit_amps * self.between(low, high)

    def poll_at_most(self, rate_hz: float) -> None:
        """Poll no faster: for scenes that take long."""
        self.rate_hz = min(self.rate_hz, rate_hz)
        self.meter_update_s = min(self.meter_update_s, self.poll_s)

    def between(self, low: float, high: float) -> float:
        """A further size of this scene."""
        return self.random.uniform(low, high)


def draw(row: str, number: int, seed: int = 0) -> Draw:
    """The sizes of one draw of one row; the same three give the same sizes always."""
    chance = random.Random(f"{row} {seed} {number}")
    limit = math.exp(chance.uniform(math.log(3.0), math.log(60.0)))
    limit = round(limit, 1) if limit < 10.0 else float(round(limit))
    rate_hz = chance.choice(RATES_HZ)
    amps = limit * chance.uniform(0.3, 0.7)
    # A meter that cannot see the job is row M2's, and nobody else's.
    steps = [step for step in AMPS_STEPS if step <= amps / 150.0]
    step = chance.choice(steps)
    update_s = chance.choice((0.02, 0.05, 0.1, 0.2, 0.5))
    return Draw(
        random=chance,
        limit_amps=limit,
        volts=round(chance.uniform(6.2, 9.0), 1),
        amps=amps,
        e0_volts=chance.uniform(1.4, 2.8),
        b_volts=chance.uniform(0.05, 0.16),
        layer_s=chance.uniform(0.02, 0.6),
        rest_s=chance.uniform(4.0, 60.0),
        bubble_share=chance.uniform(0.001, 0.008),
        bubble_s=chance.uniform(0.3, 8.0),
        warm_per_hour=chance.uniform(-0.08, 0.12),
        rate_hz=rate_hz,
        amps_step=step,
        volts_step=chance.choice((0.001, 0.01) if step < 0.1 else (0.01, 0.1)),
        soft_start_s=chance.uniform(0.2, 4.0),
        trip_delay_s=chance.uniform(0.05, 0.8),
        loop_s=chance.uniform(0.005, 0.05),
        crossover_s=chance.uniform(0.1, 1.0),
        crossover_damping=chance.uniform(0.4, 1.0),
        output_decay_s=chance.uniform(0.05, 3.0),
        meter_update_s=min(update_s, 1.0 / rate_hz),
        meter_filter_s=chance.choice((0.0, 0.0, 0.05, 0.2)),
        meter_skew_s=chance.choice((0.0, 0.0, 0.02, 0.08)),
        amps_offset=chance.uniform(-1.0, 1.0) * max(0.5 * step, 0.0005 * limit),
        volts_offset=chance.uniform(-0.02, 0.02),
        missed_share=chance.choice((0.0, 0.0, 0.0, 0.002)),
    )
