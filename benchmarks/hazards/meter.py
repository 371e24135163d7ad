"""The meters: what a poll brings of the true volts and amps.

How real meters differ from `simulators/meters.py`: they make a new value at their own rate and
repeat it in between, they filter, they show steps of 0.001 to 0.1 A, they are off by a few steps,
volts and amps are of different moments, and some polls are never answered.
"""

import math

from benchmarks.hazards.draw import Draw


class Meter:
    """Both meters of one supply."""

    def __init__(self, draw: Draw) -> None:
        self._draw = draw
        self._next_s = 0.0
        self._volts = self._amps = 0.0
        self._old_volts = 0.0
        self._shown = (0.0, 0.0)
        self.is_frozen = False
        self.sign_volts = self.sign_amps = 1.0
        self.amps_step = draw.amps_step
        self.is_dead = False

    def look(self, t_s: float, dt_s: float, volts: float, amps: float) -> None:
        """Follow the true values."""
        draw = self._draw
        keep = math.exp(-dt_s / draw.meter_filter_s) if draw.meter_filter_s > 0.0 else 0.0
        skew = math.exp(-dt_s / draw.meter_skew_s) if draw.meter_skew_s > 0.0 else 0.0
        self._old_volts = volts + (self._old_volts - volts) * skew
        self._volts = self._old_volts + (self._volts - self._old_volts) * keep
        self._amps = amps + (self._amps - amps) * keep
        if t_s + 1e-9 >= self._next_s and not self.is_frozen:
            self._next_s = t_s + draw.meter_update_s
            noise = draw.random.gauss
            volts = self._volts * (1.0 + noise(0.0, 3e-4)) + draw.volts_offset
            amps = self._amps + noise(0.0, 3e-4) * draw.limit_amps + draw.amps_offset
            self._shown = (
                self.sign_volts * _rounded(volts, draw.volts_step),
                self.sign_amps * _rounded(amps, self.amps_step),
            )

    def read(self) -> tuple[float, float] | None:
        """What a poll brings now; None for no answer."""
        if self.is_dead or self._draw.random.random() < self._draw.missed_share:
            return None
        return self._shown


def _rounded(value: float, step: float) -> float:
    return round(round(value / step) * step, 6)
