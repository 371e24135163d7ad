"""Jobs that are played to their end in a closed loop: what is drawn, and the bench that plays it.

The cell, the supply and the swab are the simulators': they know part of the heat as chemistry,
leads, evaporation, chromium that runs out and oxygen after it, none of which the estimators model.
"""

import math
import random
from dataclasses import dataclass

from benchmarks.forecast_draw import ALPHA, GRAMS_PER_COULOMB, GRAMS_PER_DM2_MICROMETRE
from simulators.cell import STRIPPED_SHARE, Bath, Cell, Circuit, Part
from simulators.rig import Wander
from simulators.supply import Mode, Supply, SupplyPlate
from simulators.swab import Strokes, Swab

DT_S = 0.25
FAMILIES = (
    "warming",
    "lost water",
    "both",
    "settles high",
    "swab",
    "coarse meters",
    "quiet",
    "quiet swab",
)
EFFICIENCY, PATCHY = 0.3, 0.1
LOWEST_VOLTS = 2.5
"""Of the default window of a strip in a tank."""


@dataclass(frozen=True)
class Job:
    """One job.

    Parameters
    ----------
    amp_hours
        What the strip takes; `told_amp_hours` what is told of it, give or take 15 %, or None.
    told_litres
        Of the bath, give or take a tenth.
    ideal_s
        How long it takes with the amps held at 97 % of the limit by a hand that never stops.
    """

    family: str
    number: int
    bath: Bath
    circuit: Circuit
    plate: SupplyPlate
    part: Part
    swab: Swab | None
    volts: float
    amp_hours: float
    told_amp_hours: float | None
    told_litres: float
    poll_s: float
    lowest_volts: float = LOWEST_VOLTS


class Bench:
    """A job being done."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.cell = Cell(job.bath, job.circuit, job.part, DT_S)
        self.supply = Supply(job.plate, DT_S)
        self.supply.volts_set = job.volts
        self.supply.switch_output(True)
        seed = f"{job.family}/{job.number}"
        self._wander = Wander(
            job.circuit.wander_share, job.circuit.wander_s, DT_S, random.Random(f"{seed}/wander")
        )
        self._strokes = (
            None if job.swab is None else Strokes(job.swab, DT_S, random.Random(f"{seed}/swab"))
        )
        self._gauss = random.Random(f"{seed}/meters").gauss
        self._steps = 0

    @property
    def t_s(self) -> float:
        """Seconds since the output was switched on."""
        return self._steps * DT_S

    @property
    def has_cut_out(self) -> bool:
        """Whether the supply has cut out."""
        return self.supply.mode is Mode.CUT_OUT

    def step(self) -> None:
        """Go one step on."""
        contact = 1.0 if self._strokes is None else self._strokes.step()
        self.cell.step(self.supply.volts, self.supply.amps, self._wander.step(), contact)
        self.supply.step(self.cell)
        self._steps += 1

    def hold(self, amps: float) -> None:
        """Turn the volts to what draws so many amps, up to the job's own."""
        self.supply.volts_set = min(self.cell.volts_at(amps), self.job.volts)

    def measured(self) -> tuple[float, float]:
        """Volts and amps as the meters show them."""
        plate, supply = self.job.plate, self.supply
        volts = supply.volts + plate.volts_noise * self._gauss(0.0, 1.0)
        amps = supply.amps * (1.0 + plate.amps_noise * self._gauss(0.0, 1.0))
        amps += 0.3 * plate.amps_step * self._gauss(0.0, 1.0)
        return _shown(volts, plate.volts_step), _shown(amps, plate.amps_step)


def _shown(value: float, step: float) -> float:
    return round(max(round(value / step), 0) * step, 6)


def draw(family: str, number: int) -> Job:
    """Draw one job; the same number is the same job on every machine."""
    chance = random.Random(f"outcome/{family}/{number}")
    is_swab = "swab" in family
    limit = chance.choice((10.0, 16.0, 20.0) if is_swab else (10.0, 20.0, 40.0))
    volts = round(chance.uniform(6.5, 10.5), 1)
    polarisation = chance.uniform(1.5, 2.2)
    share = chance.uniform(0.72, 0.92)
    trip_s = chance.uniform(320.0, 1300.0)
    lead_ohms = 0.12 / limit
    rise = math.log(1.0 / share)
    warms = {"warming": 1.0, "coarse meters": 1.0, "both": 0.5, "swab": 0.4}.get(family, 0.0)
    loads = {"lost water": 1.0, "both": 0.5, "swab": 0.6}.get(family, 0.0)
    amps = share * limit
    litres, loss = chance.uniform(8.0, 12.0) * limit / 10.0, 2.5
    if family.startswith("quiet"):
        amps = chance.uniform(0.5, 0.8) * limit
        litres *= 5.0
    if is_swab:
        amps *= 0.92
        rise = math.log(limit / amps) - 0.06
    watts = 0.8 * amps * volts * (0.8 if is_swab else 1.0)
    if warms:
        litres = watts * trip_s * ALPHA / (4144.0 * rise * warms)
        loss = chance.uniform(0.2, 1.0) * litres ** (2.0 / 3.0) * 0.7
    if family == "settles high":
        # Warm already, and warming to a level under the limit within some ten minutes.
        top = chance.uniform(0.88, 0.96)
        amps = chance.uniform(0.8, 0.9) * top * limit
        kelvin = (top * limit / amps - 1.0) / ALPHA
        watts = 0.8 * top * limit * volts
        loss = watts / kelvin
        litres = loss * chance.uniform(200.0, 500.0) / 4144.0
    above = volts - amps * lead_ohms - polarisation
    celsius = chance.uniform(18.0, 24.0)
    mean_amps = 0.5 * (amps + limit) * (0.8 if is_swab else 1.0)
    hours = mean_amps * trip_s / 3600.0 * chance.uniform(1.1, 2.2)
    if not warms and not loads:
        hours = amps * chance.uniform(500.0, 1500.0) / 3600.0
    loading = loads * rise / (mean_amps * trip_s / 3600.0)
    # The last patches take longer: ln(patchy / stripped) of their own charge.
    whole = 1.0 - PATCHY + PATCHY * math.log(PATCHY / STRIPPED_SHARE)
    grams = hours / whole * 3600.0 * EFFICIENCY * GRAMS_PER_COULOMB
    is_coarse = family == "coarse meters"
    return Job(
        family=family,
        number=number,
        bath=Bath(
            name="north tank",
            litres=max(litres, 0.05),
            celsius=celsius,
            room_celsius=celsius - chance.choice((0.0, 0.0, 2.0)),
            watts_per_kelvin=loss,
            evaporation_ml_per_hour=chance.uniform(2.0, 15.0) * litres,
        ),
        circuit=Circuit(
            siemens_at_25=amps / above / (1.0 + ALPHA * (celsius - 25.0)),
            polarisation_volts=polarisation,
            polarisation_rise_volts=0.4,
            lead_ohms=lead_ohms,
            loading_per_amp_hour=loading,
            wander_share=chance.uniform(0.001, 0.006),
            wander_s=chance.choice((10.0, 20.0, 30.0, 60.0)),
        ),
        plate=SupplyPlate(
            name="bench-2",
            limit_amps=limit,
            at_limit="trips",
            amps_max=limit,
            delay_s=chance.uniform(0.3, 1.0),
            volts_step=0.1 if is_coarse else 0.01,
            amps_step=0.1 if is_coarse else 0.01,
            volts_noise=0.0 if is_coarse else 0.002,
            amps_noise=chance.choice((0.001, 0.002, 0.005)),
        ),
        part=Part(grams / GRAMS_PER_DM2_MICROMETRE, 1.0, EFFICIENCY, PATCHY),
        swab=Swab(
            stroke_s=chance.uniform(1.5, 4.0),
            lift_every_s=chance.uniform(15.0, 60.0),
            lift_s=chance.uniform(2.0, 6.0),
            least_contact=chance.uniform(0.6, 0.85),
        )
        if is_swab
        else None,
        volts=volts,
        amp_hours=hours,
        told_amp_hours=hours * chance.uniform(0.85, 1.15) if number % 2 else None,
        told_litres=litres * chance.uniform(0.9, 1.1),
        poll_s=0.5,
    )


def jobs(first: int, each: int) -> list[Job]:
    """Some of each family."""
    return [draw(family, first + n) for family in FAMILIES for n in range(each)]
