"""The cell between two clamps: electrodes, parts in parallel, gas, heat, contacts, a short.

How a real bench differs from `simulators/cell.py`, which has one bath conductance, one fixed
polarisation and one short:

- Electrodes. Each follows Butler-Volmer; well away from equilibrium that is Tafel's line, so that
  the volts they take grow with the logarithm of the amps (Bard and Faulkner, Electrochemical
  Methods, 2nd ed., ch. 3). Both together are taken as one asinh law. The straight line that fits
  volts and amps near one point then has an intercept that moves with the amps.
- Double layers and adsorbed gas keep their volts: a step of the supply's volts first gives more
  amps than the steady ones, and a dead output keeps the cell's own volts for seconds to minutes.
- Several parts hang in parallel, each by its own clip. A clip that goes bad, or a part that comes
  off, takes a step out of the amps; a part hung in under current adds one.
- Wetted area follows the level, and gas covers a share of it that wanders within seconds.
- Heat comes from the solution's share of the watts and warms it late; hot solution conducts more.
- A short is a resistance beside the cell, behind the leads.
"""

import math

from benchmarks.hazards.draw import Draw

REST_VOLTS = 0.35
"""What a cell at rest still shows after minutes: two metals in caustic (common practice, no
source)."""
KNEE = 1e-3
"""Exchange current as a share of the steady amps: far down Tafel's line."""
JOULES_PER_LITRE_KELVIN = 4100.0
"""Dilute caustic (CRC Handbook, water 4180; from memory)."""
ALPHA = 0.0185
"""Rise of the conductance with warmth, per kelvin; other than the estimators' 0.0175."""


class Cell:
    """One cell, or a stack of `cells` in series.

    Parameters
    ----------
    draw
        Its sizes: at `draw.volts` it takes `draw.amps` in the steady state.
    parts
        How many hang in parallel at first.
    litres
        None for a bath so large that it does not warm.
    """

    def __init__(
        self,
        draw: Draw,
        parts: int = 1,
        litres: float | None = None,
        cells: int = 1,
    ) -> None:
        self._draw = draw
        self.cells = cells
        chance = draw.random
        # Never more than half of what the electrodes leave: a stack leaves little.
        left_volts = draw.volts / cells - draw.e0_volts
        lead_drop = min(chance.uniform(0.05, 0.3), 0.5 * left_volts) * cells
        self.lead_ohms = lead_drop / draw.amps
        self._knee_amps = KNEE * draw.amps
        b = draw.b_volts
        steady = b * math.asinh(1.0 / KNEE)
        # The tangent's intercept is what the electrodes take, less slope times amps.
        self._rest_volts = draw.e0_volts - steady + b
        self._b = b
        above = draw.volts / cells - lead_drop / cells - (self._rest_volts + steady)
        self._siemens = draw.amps / above
        self.clips = [1.0] * parts
        """Conductance of each part with its clip, as a share of a good one."""
        self.level = 1.0
        self.growth = 1.0
        """Factor on the conductance that a scene ramps."""
        self.touch_siemens = 0.0
        self.agitation = 0.0
        self.own_volts = REST_VOLTS
        """What the electrodes hold now, per cell."""
        self._gas = 0.0
        self._agitated = 0.0
        self._phase = chance.uniform(0.0, 6.28)
        self._litres = litres
        self.kelvin = 0.0
        self._t_s = 0.0
        self._parts = parts

    @property
    def siemens(self) -> float:
        """Of the solution and the clips of all cells in series, now."""
        share = sum(self.clips) / self._parts
        warm = 1.0 + self._draw.warm_per_hour * self._t_s / 3600.0
        noise = 1.0 + self._gas + self._agitated
        grown = self.growth * warm * (1.0 + ALPHA * self.kelvin)
        return max(self._siemens * share * self.level * grown * noise, 0.0) / self.cells

    def amps_at(self, volts: float) -> float:
        """What flows with so many volts at the terminals, double layers as they are now."""
        inner, own = self.siemens, self.own_volts * self.cells
        total = inner + self.touch_siemens
        if total <= 0.0:
            return 0.0
        node_volts = (volts / self.lead_ohms + inner * own) / (1.0 / self.lead_ohms + total)
        amps = (volts - node_volts) / self.lead_ohms
        return max(amps, 0.0)

    def volts_at(self, amps: float) -> float:
        """The terminals' volts where so many amps are forced through."""
        inner, own = self.siemens, self.own_volts * self.cells
        total = inner + self.touch_siemens
        if total <= 0.0:
            return 1e3
        return amps * self.lead_ohms + (amps + inner * own) / total

    def open_volts(self) -> float:
        """What the cell itself shows while nothing flows."""
        return self.own_volts * self.cells if self.siemens > 0.0 else 0.0

    def step(self, dt_s: float, volts: float, amps: float) -> None:
        """Go on by so long with these volts and amps at the terminals."""
        self._t_s += dt_s
        draw = self._draw
        node_volts = volts - amps * self.lead_ohms
        through = max(amps - self.touch_siemens * max(node_volts, 0.0), 0.0)
        if through > self._knee_amps:
            target = self._rest_volts + self._b * math.asinh(through / self._knee_amps)
            pace_s = draw.layer_s
        else:
            target, pace_s = REST_VOLTS, draw.rest_s
        if self.touch_siemens > 0.0:
            # A short drains the double layers, too.
            pace_s = min(pace_s, 0.3)
            target = min(target, max(node_volts / self.cells, 0.0))
        self.own_volts += (target - self.own_volts) * -math.expm1(-dt_s / pace_s)
        keep = math.exp(-dt_s / draw.bubble_s)
        swing = draw.bubble_share * math.sqrt(1.0 - keep * keep)
        self._gas = keep * self._gas + draw.random.gauss(0.0, swing)
        if self.agitation > 0.0:
            self._phase += 6.28 * dt_s / 1.7
            self._agitated = self.agitation * math.sin(self._phase)
        else:
            self._agitated = 0.0
        if self._litres is not None:
            watts = max(volts - self.own_volts * self.cells, 0.0) * amps
            capacity = JOULES_PER_LITRE_KELVIN * self._litres
            self.kelvin += dt_s * (watts / capacity - self.kelvin / 5400.0)
