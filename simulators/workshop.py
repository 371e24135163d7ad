"""Nothing in, months of the invented workshop out, a line of JSON for each thing that happened.

`python -m simulators.workshop` prints, in order of time: `{"kind": "entry", ...}` for what was done
to a bath, `{"kind": "run", ...}` for a job with its card and outcome, then its readings as
`{"kind": "rows", "rows": [[t_s, volts, amps, celsius, mode], ...]}`. Times: seconds before the end.

Two baths age job by job: they conduct better as they load and dry, are topped up and thinned; the
clips of one supply corrode until they are cleaned; once too much is hung into the tank at once.
"""

import json
import math
import random
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace

from simulators.cell import DRYING_EXPONENT, Bath, Circuit, Part
from simulators.rig import Rig
from simulators.scene import Event, Scene
from simulators.supply import SupplyPlate
from simulators.swab import Swab

DAY_S = 86_400.0
DAYS = 92
RATE_HZ = 2.0
SEED = 7
Line = dict[str, object]


@dataclass(frozen=True, slots=True)
class _Work:
    """A kind of job."""

    part: str
    area_dm2: float
    siemens: float
    seconds: float


TANK_WORK = (
    _Work("bell", 1.6, 1.35, 420.0),
    _Work("lamp bracket", 2.2, 1.55, 480.0),
    _Work("handlebar", 3.2, 1.80, 560.0),
)
TOO_MUCH = _Work("six handlebars", 18.0, 2.1, 1500.0)
SWAB_WORK = (_Work("bell rim", 0.3, 0.72, 240.0),)
TANK = Bath("north tank", 9.0, watts_per_kelvin=2.7, probe=True)
POT = Bath("swab pot", 0.4, watts_per_kelvin=0.8, evaporation_ml_per_hour=6.0, probe=True)
BENCH_1 = SupplyPlate("bench-1", 10.0, "trips", cool_down_s=60.0)
BENCH_2 = SupplyPlate("bench-2", 6.0, "holds", amps_max=6.0)
OPERATORS = ("Ada", "Ben")


class _Vessel:
    """One bath over the months: how strong it is, and how far its clips have corroded."""

    def __init__(
        self, bath: Bath, plate: SupplyPlate, growth: float, grams_per_litre: float
    ) -> None:
        self.bath = bath
        self.plate = plate
        self.growth = growth
        self.grams_per_litre = grams_per_litre
        self.litres = bath.litres
        self.loading = 1.0
        self.strength = 1.0
        self.contact_ohms = 0.004
        self.jobs = 0
        self.last_siemens = 1.35

    @property
    def factor(self) -> float:
        """Conductance over that of the fresh bath."""
        return self.loading * math.exp(DRYING_EXPONENT * math.log(self.strength))


def lines(seed: int = SEED, days: int = DAYS) -> Iterator[Line]:
    """The months, line by line."""
    chance = random.Random(seed)
    tank, pot = _Vessel(TANK, BENCH_1, 0.012, 60.0), _Vessel(POT, BENCH_2, 0.018, 55.0)
    yield from (_made_up(tank, days * DAY_S, "make-up"), _made_up(pot, days * DAY_S, "make-up"))
    yield _look(tank, days * DAY_S - 3600.0)
    for day in range(days):
        ago_s = (days - day) * DAY_S - 8.0 * 3600.0
        if day % 7 > 4:
            continue
        if day % 7 == 0 and day:
            yield _entry(tank, ago_s, "top-up", litres=round(chance.uniform(0.15, 0.3), 2))
        if day == 42:
            yield from _job(tank, TOO_MUCH, None, chance, ago_s - 1800.0)
        elif chance.random() < 0.5:
            yield from _job(tank, chance.choice(TANK_WORK), None, chance, ago_s - 3600.0)
        if chance.random() < 0.25:
            yield from _job(pot, SWAB_WORK[0], Swab(), chance, ago_s - 4.0 * 3600.0)
        yield from _care(tank, pot, day, ago_s - 7.0 * 3600.0)


def _care(tank: _Vessel, pot: _Vessel, day: int, ago_s: float) -> Iterator[Line]:
    """What the workshop does about its baths, by the calendar."""
    if day in (44, 71):
        litres = 1.2 if day == 44 else 0.9
        ohms = 1.0 / (tank.last_siemens * tank.factor) + 0.0131 + tank.contact_ohms
        before = round((6.0 - 1.9) / ohms, 2)
        thinner = tank.litres / (tank.litres + litres)
        tank.litres += litres
        tank.strength *= thinner
        aimed = round(before * thinner**0.87, 2)
        yield _entry(tank, ago_s, "dilution", litres=litres, supply="bench-1", volts=6.0,
                     amps_before=before, amps_aimed=aimed)  # fmt: skip
    if day == 50:
        pot.loading = pot.strength = 1.0
        yield _made_up(pot, ago_s, "replacement")
    if day in (36, 64):
        yield _look(tank, ago_s)
    if day == 65:
        tank.contact_ohms = 0.004
        yield _entry(tank, ago_s, "note", text="clips of bench-1 cleaned")
        yield _look(tank, ago_s - 60.0)


def _made_up(vessel: _Vessel, ago_s: float, kind: str) -> Line:
    return _entry(
        vessel, ago_s, kind, litres=vessel.bath.litres, grams_per_litre=vessel.grams_per_litre,
        solution="caustic",
    )  # fmt: skip


def _look(vessel: _Vessel, ago_s: float) -> Line:
    ohms = round(0.0131 + vessel.contact_ohms, 5)
    return _entry(vessel, ago_s, "leads", supply=vessel.plate.name, ohms=ohms)


def _entry(vessel: _Vessel, ago_s: float, kind: str, **more: float | str) -> Line:
    return {"kind": "entry", "ago_s": ago_s, "bath": vessel.bath.name, "entry": kind,
            "by": OPERATORS[int(ago_s) % 2], **more}  # fmt: skip


def _job(
    vessel: _Vessel, work: _Work, swab: Swab | None, chance: random.Random, ago_s: float
) -> Iterator[Line]:
    """One job with its readings; the bath is a little more loaded afterwards."""
    room = chance.uniform(18.5, 22.5)
    bath = replace(
        vessel.bath, litres=vessel.litres, celsius=round(room + chance.uniform(0.0, 1.0), 1),
        room_celsius=room,
    )  # fmt: skip
    circuit = Circuit(
        work.siemens * vessel.factor * chance.gauss(1.0, 0.008),
        polarisation_volts=1.9,
        lead_ohms=0.0131 + vessel.contact_ohms,
        wander_share=0.004,
        loading_per_amp_hour=0.02 if work is TOO_MUCH else 0.0,
    )
    part = Part(work.area_dm2, 0.3, efficiency=min(max(chance.gauss(0.25, 0.025), 0.18), 0.32))
    volts = 6.0 if swab is None else 8.0
    if work is TOO_MUCH:
        # Near the limit from the start, so that warming and loading bring it there.
        cold = 1.0 + bath.alpha_per_kelvin * (bath.celsius - 25.0)
        over = 1.0 / (circuit.siemens_at_25 * cold) + circuit.lead_ohms
        volts = round(1.9 + 0.97 * vessel.plate.limit_amps * over, 1)
    events = (
        Event("set-volts", at_s=2.0, volts=volts),
        Event("output-on", at_s=3.0),
        Event("output-off", after_strip_s=25.0),
    )
    seed = vessel.jobs + int(ago_s)
    scene = Scene("workshop", "a job", work.seconds * 1.6, bath, circuit, vessel.plate, part, swab,
                  events, seed)  # fmt: skip
    rig = Rig(scene)
    rows: list[list[float | str | None]] = []
    while rig.t_s < scene.duration_s:
        rig.advance_to(len(rows) / RATE_HZ)
        point = rig.measured()
        rows.append([point.t_s, point.volts, point.amps, point.celsius, point.mode.value])
        was = rows[-int(10 * RATE_HZ)] if len(rows) > 60 * RATE_HZ else None
        if was is not None and not rig.supply.output_on and was[2] == 0.0:
            break
    vessel.jobs += 1
    if work is not TOO_MUCH:
        vessel.last_siemens = work.siemens
    vessel.loading *= 1.0 + vessel.growth
    vessel.contact_ohms *= 1.05
    has_tripped = rig.supply.trips > 0
    yield {
        "kind": "run", "ago_s": ago_s, "supply": vessel.plate.name, "bath": bath.name,
        "limit_amps": vessel.plate.limit_amps, "at_limit": vessel.plate.at_limit,
        "litres": round(vessel.litres, 3), "poll_s": 1.0 / RATE_HZ,
        "way": "tank" if swab is None else "swab", "part": work.part, "area_dm2": work.area_dm2,
        "micrometres": 0.3, "operator": chance.choice(OPERATORS),
        "wetted": rig.cell.is_stripped, "tripped": has_tripped,
    }  # fmt: skip
    yield {"kind": "rows", "rows": rows}


def main() -> int:
    """Print the months."""
    for line in lines():
        sys.stdout.write(json.dumps(line, separators=(",", ":")) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
