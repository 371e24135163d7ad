"""One DC supply with its protection, as plain difference equations.

1. Switched on, the volts climb to what is set at `volts_max / soft_start_s` a second.
2. No supply gives more than `ceiling_amps`: its volts fall instead.
3. A supply that limits holds the amps at `limit_amps`: its volts fall.
4. A supply that trips by delay cuts out once the amps stood over `limit_amps` for `delay_s`.
5. A supply that trips by heat cuts out when its thermal image reaches 1:
   d(theta)/dt = ((amps / limit_amps)^2 - theta) / thermal_s (IEC 60255-149, single time constant).
6. Cut out, it gives nothing, and cannot be reset before `cool_down_s` is over and a thermal image
   has fallen under `thermal_reset`.
7. It resets itself then, output on again unless somebody switched it off meanwhile; or it waits
   for somebody to reset it, output off.
"""

import math
from dataclasses import dataclass
from enum import IntFlag, StrEnum
from typing import Annotated, Literal

from simulators.cell import Cell
from simulators.form import Between, FormError


class Mode(StrEnum):
    """What the supply is doing."""

    CONSTANT_VOLTAGE = "constant-voltage"
    CONSTANT_CURRENT = "constant-current"
    CUT_OUT = "cut-out"
    OUTPUT_OFF = "output-off"


class Protection(IntFlag):
    """What made the supply cut out."""

    NONE = 0
    OVER_CURRENT = 1
    OVER_TEMPERATURE = 2


@dataclass(frozen=True, slots=True)
class SupplyPlate:
    """What stands on the supply's plate and in its manual.

    Parameters
    ----------
    name
        What the workshop calls it.
    limit_amps
        Where it cuts out, or what it limits to.
    limit
        "trips" or "holds".
    cut_out
        For one that trips: "delay" or "thermal".
    volts_max, amps_max
        Its rating.
    ceiling_amps
        More than this it never gives; 1.3 times its rating if not said.
    delay_s, thermal_s, thermal_reset, cool_down_s, soft_start_s, resets_itself
        See the rules above.
    volts_step, amps_step
        Resolution of its meters.
    volts_noise, amps_noise
        Standard deviation of one reading: volts, and share of the amps.
    """

    name: str
    limit_amps: Annotated[float, Between(0.05, 10000.0)]
    at_limit: Literal["trips", "holds"]
    cut_out: Literal["delay", "thermal"] = "delay"
    volts_max: Annotated[float, Between(1.0, 60.0)] = 12.0
    amps_max: Annotated[float, Between(0.1, 10000.0)] = 10.0
    ceiling_amps: Annotated[float, Between(0.1, 20000.0)] | None = None
    delay_s: Annotated[float, Between(0.0, 600.0)] = 0.5
    thermal_s: Annotated[float, Between(1.0, 7200.0)] = 180.0
    thermal_reset: Annotated[float, Between(0.05, 0.99)] = 0.6
    cool_down_s: Annotated[float, Between(0.0, 7200.0)] = 30.0
    soft_start_s: Annotated[float, Between(0.05, 120.0)] = 3.0
    resets_itself: bool = False
    volts_step: Annotated[float, Between(0.0001, 1.0)] = 0.001
    amps_step: Annotated[float, Between(0.0001, 1.0)] = 0.001
    volts_noise: Annotated[float, Between(0.0, 1.0)] = 0.002
    amps_noise: Annotated[float, Between(0.0, 0.2)] = 0.002

    def __post_init__(self) -> None:
        if self.ceiling_amps is not None and self.ceiling_amps < self.limit_amps:
            raise FormError("ceiling_amps must not be under limit_amps")

    def identity(self, serial: int) -> str:
        """The four fields of its answer to *IDN?; no real maker's."""
        return f"BATHVIGIL SIM,DC-{self.volts_max:g}-{self.amps_max:g},SIM{serial:04d},1.0"


class Supply:
    """One DC supply, from the moment it is plugged in: output off, 0 V set."""

    def __init__(self, plate: SupplyPlate, dt_s: float) -> None:
        self.plate = plate
        self.volts_set = 0.0
        self.limit_amps = plate.limit_amps
        self.output_on = False
        self._wanted_on = False
        self.protection = Protection.NONE
        self.tripped_for = Protection.NONE  # kept after a reset, until somebody takes note
        self.trips = 0
        self.thermal_image = 0.0
        self.volts = 0.0
        self.amps = 0.0
        self._dt_s = dt_s
        self._ceiling_amps = plate.ceiling_amps or 1.3 * plate.amps_max
        self._climb = plate.volts_max * dt_s / plate.soft_start_s
        self._keep_heat = math.exp(-dt_s / plate.thermal_s)
        self._ramp = 0.0
        self._over_s = 0.0
        self._cut_out_s = 0.0
        self._holds_amps = False

    @property
    def mode(self) -> Mode:
        """What the supply is doing; a cut-out goes before everything else."""
        if self.protection:
            return Mode.CUT_OUT
        if not self.output_on:
            return Mode.OUTPUT_OFF
        return Mode.CONSTANT_CURRENT if self._holds_amps else Mode.CONSTANT_VOLTAGE

    @property
    def can_be_reset(self) -> bool:
        """True while cut out, cooled down, and not yet reset."""
        return (
            self.protection is not Protection.NONE
            and self._cut_out_s >= self.plate.cool_down_s - 1e-9
            and (
                Protection.OVER_TEMPERATURE not in self.protection
                or self.thermal_image < self.plate.thermal_reset
            )
        )

    def switch_output(self, on: bool) -> bool:
        """Switch the output; False where a cut-out keeps it off."""
        if on and self.protection:
            return False
        self._wanted_on = on
        self._connect(on)
        return True

    def power_on(self) -> None:
        """Be as after switching on: output off, no volts set."""
        self.switch_output(False)
        self.volts_set = 0.0

    def reset(self) -> bool:
        """Clear a cut-out, the output staying off; False where it is too early."""
        if self.protection and not self.can_be_reset:
            return False
        self.protection = Protection.NONE
        return True

    def step(self, cell: Cell) -> None:
        """Give volts and amps to the cell as it is now, and let the protection go one step on."""
        if self.protection:
            self._cut_out_s += self._dt_s
            if self.plate.resets_itself and self.can_be_reset:
                self.reset()
                self._connect(self._wanted_on)
        if self.output_on:
            gap = self.volts_set - self._ramp
            self._ramp += min(max(gap, -self._climb), self._climb)
            self._give(cell)
        if self.plate.at_limit == "trips":
            self._protect()

    def _connect(self, on: bool) -> None:
        self.output_on = on
        if not on:
            self._ramp = self.volts = self.amps = 0.0
            self._holds_amps = False

    def _give(self, cell: Cell) -> None:
        volts = self._ramp
        amps = cell.amps_at(volts)
        most = self._ceiling_amps
        if self.plate.at_limit == "holds":
            most = min(most, self.limit_amps)
        self._holds_amps = amps > most
        if self._holds_amps:
            amps = most
            volts = min(cell.volts_at(amps), volts)
        self.volts = volts
        self.amps = amps

    def _protect(self) -> None:
        if self.plate.cut_out == "thermal":
            heat = (self.amps / self.limit_amps) ** 2
            self.thermal_image = heat + (self.thermal_image - heat) * self._keep_heat
            if self.thermal_image >= 1.0 and self.output_on:
                self._cut(Protection.OVER_TEMPERATURE)
            return
        self._over_s = self._over_s + self._dt_s if self.amps > self.limit_amps else 0.0
        if self._over_s > self.plate.delay_s:
            self._cut(Protection.OVER_CURRENT)

    def _cut(self, why: Protection) -> None:
        self._connect(False)
        self.protection = why
        self.tripped_for |= why
        self.trips += 1
        self._over_s = 0.0
        self._cut_out_s = 0.0
