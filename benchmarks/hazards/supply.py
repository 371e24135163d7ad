"""The supply of the far end: loops of finite gain, a crossover that settles late, protections.

How a real supply differs from `simulators/supply.py`, which holds volts and amps exactly from one
step to the next:

- Volts follow the knob through a loop, after switching on by a soft start; a load step is regulated
  within milliseconds. The crossover to constant current takes 0.1 to 1 s, with a peak of amps
  first and volts that swing under where they settle.
- The current knob may stand below what the settings call the limit.
- A cut-out comes after the amps were over the limit for a delay, never at once. Some supplies
  fold back instead: volts and amps both fall and stay there. Some come back by themselves.
- After the output dies its capacitor still holds volts, and the cell's own volts stand behind it.
"""

import math
from dataclasses import dataclass
from enum import Enum

from benchmarks.hazards.cell import Cell
from benchmarks.hazards.draw import Draw

PEAK = 1.6
"""Times the limit that the power stage itself can give."""
CALM = 0.002
TURN_S = 0.1
"""Within so long the output follows the knob from nothing to all."""


class AtLimit(Enum):
    """What the supply does at its limit."""

    CUTS_OUT = "cuts out"
    HOLDS = "holds the amps"
    FOLDS_BACK = "folds back"


@dataclass(slots=True)
class Protection:
    """How the supply protects itself.

    Parameters
    ----------
    comes_back_s
        Seconds after which it restarts of itself; None for never.
    fold_share
        Share of the limit that is left after a fold-back.
    """

    at_limit: AtLimit
    limit_amps: float
    comes_back_s: float | None = None
    fold_share: float = 0.6


class Supply:
    """One supply with one cell at its terminals."""

    def __init__(self, draw: Draw, cell: Cell, protection: Protection) -> None:
        self._draw = draw
        self._cell = cell
        self.protection = protection
        self.knob_volts = draw.volts
        self.is_on = False
        self.has_cut_out = False
        self.cut_outs = 0
        self.volts = 0.0
        self.amps = 0.0
        self._ramp_volts = 0.0
        self._speed = 0.0
        self._over_s = 0.0
        self._dead_s = 0.0
        self._folded = False
        self._has_started = False
        self.is_holding = False

    @property
    def is_calm(self) -> bool:
        """Whether nothing moves within less than a poll."""
        if not self.is_on:
            return self._dead_s > 5.0 * self._draw.output_decay_s
        settled = abs(self._ramp_volts - self.knob_volts) < CALM
        return settled and not self.is_holding and self._over_s == 0.0

    def switch(self, on: bool) -> None:
        """Turn the output on or off."""
        self.is_on, self.has_cut_out, self._folded = on, False, False
        self._has_started = False
        self._ramp_volts = self._over_s = self._dead_s = self._speed = 0.0
        self.is_holding = False

    def step(self, dt_s: float) -> None:
        """Go on by so long."""
        if self.is_on:
            self._deliver(dt_s)
        else:
            self._die(dt_s)
        self._cell.step(dt_s, self.volts, self.amps)

    def _deliver(self, dt_s: float) -> None:
        draw, cell, limit = self._draw, self._cell, self.protection.limit_amps
        pace_s = TURN_S if self._has_started else draw.soft_start_s
        pace = max(self.knob_volts, 1.0) * dt_s / pace_s
        self._ramp_volts += min(max(self.knob_volts - self._ramp_volts, -pace), pace)
        wanted = self._ramp_volts
        self._has_started |= wanted >= self.knob_volts
        amps = cell.amps_at(wanted)
        kind = self.protection.at_limit
        if self._folded:
            self.amps = self.protection.fold_share * limit
            self.volts = min(cell.volts_at(self.amps), wanted)
            if self.volts >= wanted:
                self.amps, self._folded = amps, False
            self.is_holding = self._folded
            return
        if kind is AtLimit.HOLDS and (amps > limit or self.is_holding):
            self._hold(dt_s, wanted, limit)
            return
        self.volts = wanted
        if amps > PEAK * limit:
            self.volts, amps = min(cell.volts_at(PEAK * limit), wanted), PEAK * limit
        self.amps = amps
        self._over_s = self._over_s + dt_s if amps > limit else 0.0
        if self._over_s > draw.trip_delay_s and kind is not AtLimit.HOLDS:
            if kind is AtLimit.FOLDS_BACK:
                self._folded = True
            else:
                self.is_on, self.has_cut_out = False, True
                self.cut_outs += 1
            self._over_s = self._dead_s = 0.0

    def _hold(self, dt_s: float, wanted: float, limit: float) -> None:
        """The crossover: volts swing to where the limit's amps flow."""
        cell, draw = self._cell, self._draw
        target = min(cell.volts_at(limit), wanted)
        if not self.is_holding:
            self.is_holding, self._speed = True, 0.0
            self.volts = min(cell.volts_at(PEAK * limit), wanted)
        w = 4.0 / draw.crossover_s
        slices = max(1, math.ceil(dt_s * w / 0.2))
        for _ in range(slices):
            h = dt_s / slices
            pull = w * w * (target - self.volts)
            self._speed = (self._speed + h * pull) / (1.0 + 2.0 * draw.crossover_damping * w * h)
            self.volts += h * self._speed
        self.volts = min(max(self.volts, 0.0), wanted)
        self.amps = min(cell.amps_at(self.volts), PEAK * limit)
        if target >= wanted and wanted - self.volts < 0.02:
            self.is_holding, self.volts = False, wanted
            self.amps = cell.amps_at(wanted)

    def _die(self, dt_s: float) -> None:
        self.amps = 0.0
        self._dead_s += dt_s
        own = self._cell.open_volts()
        keep = math.exp(-dt_s / self._draw.output_decay_s)
        self.volts = max(own, 0.0) + (self.volts - own) * keep if own < self.volts else own
        back_s = self.protection.comes_back_s
        if self.has_cut_out and back_s is not None and self._dead_s > back_s:
            self.switch(True)
