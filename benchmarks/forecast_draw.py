"""Draws the sizes of one scene; every family of the corpus uses it.

Ranges are common practice, no source: 6 to 10.5 V, 10 to 60 A, slow noise of 0.2 to 0.9 % with a
memory of 5 to 60 s.
"""

import math
import random
from dataclasses import dataclass
from typing import Literal

from simulators.cell import Bath, Circuit, Part
from simulators.scene import Deed, Event, Scene
from simulators.supply import SupplyPlate
from simulators.swab import Swab

ALPHA = 0.0175
JOULES_PER_LITRE_KELVIN = 4144.0
GRAMS_PER_COULOMB = 8.98e-5
GRAMS_PER_DM2_MICROMETRE = 0.0719


@dataclass(frozen=True)
class Drawn:
    """One scene, how often its supply is polled, and in which stretches no poll is answered."""

    family: str
    number: int
    scene: Scene
    rate_hz: float
    silent: tuple[tuple[float, float], ...] = ()


@dataclass
class Draw:
    """The sizes that every family draws alike, and whose run it is."""

    family: str
    number: int
    random: random.Random
    limit_amps: float
    volts: float
    polarisation_volts: float
    celsius: float
    wander: float
    memory_s: float
    rate_hz: float

    @property
    def lead_ohms(self) -> float:
        """Leads get thicker with the amps: 0.1 V or so at the limit."""
        return 0.12 / self.limit_amps

    def siemens_at_25(self, amps: float) -> float:
        """What draws `amps` at the start."""
        above = self.volts - amps * self.lead_ohms - self.polarisation_volts
        return amps / above / (1.0 + ALPHA * (self.celsius - 25.0))


def make_scene(
    drawn: Draw,
    *,
    amps: float,
    litres: float,
    duration_s: float,
    watts_per_kelvin: float = 0.1,
    room_celsius: float | None = None,
    loading_per_amp_hour: float = 0.0,
    evaporation: float = 5.0,
    swab: Swab | None = None,
    part: Part | None = None,
    rise_volts: float = 0.5,
    at_limit: Literal["trips", "holds"] = "trips",
    events: tuple[Event, ...] = (),
) -> Drawn:
    chance = drawn.random
    amps_step = chance.choice((0.001, 0.01, 0.1) if drawn.limit_amps >= 20.0 else (0.001, 0.01))
    supply = SupplyPlate(
        name="bench-2",
        limit_amps=drawn.limit_amps,
        at_limit=at_limit,
        amps_max=drawn.limit_amps,
        delay_s=chance.uniform(0.2, 1.0),
        soft_start_s=chance.uniform(1.0, 4.0),
        amps_step=amps_step,
        amps_noise=chance.choice((0.001, 0.002, 0.005)),
    )
    bath = Bath(
        name="north tank",
        litres=max(litres, 0.05),
        celsius=drawn.celsius,
        room_celsius=drawn.celsius if room_celsius is None else room_celsius,
        watts_per_kelvin=watts_per_kelvin,
        evaporation_ml_per_hour=evaporation,
    )
    circuit = Circuit(
        siemens_at_25=drawn.siemens_at_25(amps),
        polarisation_volts=drawn.polarisation_volts,
        polarisation_rise_volts=rise_volts,
        lead_ohms=drawn.lead_ohms,
        loading_per_amp_hour=loading_per_amp_hour,
        wander_share=drawn.wander,
        wander_s=drawn.memory_s,
    )
    begins = (make_event("set-volts", 4.0, volts=drawn.volts), make_event("output-on", 5.0))
    scene = Scene(
        name=drawn.family,
        story="",
        duration_s=duration_s,
        seed=drawn.number,
        bath=bath,
        circuit=circuit,
        supply=supply,
        part=part,
        swab=swab,
        events=(*begins, *events),
    )
    return Drawn(drawn.family, drawn.number, scene, drawn.rate_hz)


def make_event(
    do: Deed, at_s: float, volts: float | None = None, ohms: float | None = None
) -> Event:
    return Event(do=do, at_s=at_s, volts=volts, ohms=ohms)


def warming_for(drawn: Draw, amps: float, trip_s: float) -> float:
    """Litres that warm from `amps` to the limit in about `trip_s`."""
    watts = 0.8 * amps * drawn.volts
    return watts * trip_s * ALPHA / (JOULES_PER_LITRE_KELVIN * math.log(drawn.limit_amps / amps))


def brush_swab(drawn: Draw) -> Swab:
    """A swab that is stroked and lifted."""
    chance = drawn.random
    return Swab(
        stroke_s=chance.uniform(1.5, 4.0),
        lift_every_s=chance.uniform(15.0, 60.0),
        lift_s=chance.uniform(2.0, 6.0),
        least_contact=chance.uniform(0.6, 0.85),
    )


def chromed_part(drawn: Draw, amps: float, grams: float) -> Part:
    """A part that carries so much chromium, at 10 A/dm2."""
    area_dm2 = amps / 10.0
    return Part(
        area_dm2=area_dm2,
        micrometres=grams / (area_dm2 * GRAMS_PER_DM2_MICROMETRE),
        efficiency=0.3,
        patchy=drawn.random.uniform(0.05, 0.2),
    )
