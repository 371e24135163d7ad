"""Prints months of work in an invented workshop as JSON lines.

`python -m simulators.workshop` prints, in order of time: `{"kind": "entry", ...}` for what was done
to a bath, `{"kind": "run", ...}` for a job with its card and outcome, then its readings as
`{"kind": "rows", "rows": [[t_s, volts, amps, celsius, mode], ...]}`. Times: seconds before the end.

Two baths age job by job: they conduct better as they lose more water than is topped up, and are
thinned; what goes into solution makes them conduct a little better or worse, which is drawn. The
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
MOST_LOADING = 0.003
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


class Vessel:
    """One bath over the months: how much water it has lost, and how far its clips have corroded.

    Parameters
    ----------
    lost_per_job
        Share of its water that it loses from job to job beyond what is topped up.
    loading_per_job
        Share by which a job changes its conductance otherwise, up or down.
    """

    def __init__(
        self,
        bath: Bath,
        plate: SupplyPlate,
        lost_per_job: float,
        loading_per_job: float,
        grams_per_litre: float,
    ) -> None:
        self.bath = bath
        self.plate = plate
        self.lost_per_job = lost_per_job
        self.loading_per_job = loading_per_job
        self.grams_per_litre = grams_per_litre
        self.renew()
        self.contact_ohms = 0.004
        self.jobs = 0
        self.last_siemens = 1.35

    @property
    def factor(self) -> float:
        """Conductance over that of the fresh bath."""
        return self.loading * math.pow(self.bath.litres / self.true_litres, DRYING_EXPONENT)

    def renew(self) -> None:
        """Fresh solution; `litres` are the ledger's, which does not see lost water."""
        self.litres = self.true_litres = self.bath.litres
        self.loading = 1.0

    def age(self) -> None:
        """What a job and the days around it do to bath and clips."""
        self.true_litres *= 1.0 - self.lost_per_job
        self.loading *= 1.0 + self.loading_per_job
        self.contact_ohms *= 1.05

    def pour_in(self, litres: float) -> None:
        """Water that goes into the ledger."""
        self.litres += litres
        self.true_litres += litres


def lines(seed: int = SEED, days: int = DAYS) -> Iterator[Line]:
    """The months, line by line."""
    chance = random.Random(seed)
    # Chromate and carbonate in place of hydroxide conduct worse (ion data, CRC Handbook); what
    # wets more area, better: practice reports both.
    of_loading = random.Random(f"loading {seed}")
    tank = Vessel(TANK, BENCH_1, 0.0137, of_loading.uniform(-MOST_LOADING, MOST_LOADING), 60.0)
    pot = Vessel(POT, BENCH_2, 0.0205, of_loading.uniform(-MOST_LOADING, MOST_LOADING), 55.0)
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


def _care(tank: Vessel, pot: Vessel, day: int, ago_s: float) -> Iterator[Line]:
    """What the workshop does about its baths, by the calendar."""
    if day in (44, 71):
        litres = 1.2 if day == 44 else 0.9
        ohms = 1.0 / (tank.last_siemens * tank.factor) + 0.0131 + tank.contact_ohms
        before = round((6.0 - 1.9) / ohms, 2)
        thinner = tank.litres / (tank.litres + litres)
        tank.pour_in(litres)
        aimed = round(before * thinner**0.87, 2)
        yield _entry(tank, ago_s, "dilution", litres=litres, supply="bench-1", volts=6.0,
                     amps_before=before, amps_aimed=aimed)  # fmt: skip
    if day == 50:
        pot.renew()
        yield _made_up(pot, ago_s, "replacement")
    if day in (36, 64):
        yield _look(tank, ago_s)
    if day == 65:
        tank.contact_ohms = 0.004
        yield _entry(tank, ago_s, "note", text="clips of bench-1 cleaned")
        yield _look(tank, ago_s - 60.0)


def _made_up(vessel: Vessel, ago_s: float, kind: str) -> Line:
    return _entry(
        vessel, ago_s, kind, litres=vessel.bath.litres, grams_per_litre=vessel.grams_per_litre,
        solution="caustic",
    )  # fmt: skip


def _look(vessel: Vessel, ago_s: float) -> Line:
    ohms = round(0.0131 + vessel.contact_ohms, 5)
    return _entry(vessel, ago_s, "leads", supply=vessel.plate.name, ohms=ohms)


def _entry(vessel: Vessel, ago_s: float, kind: str, **more: float | str) -> Line:
    return {"kind": "entry", "ago_s": ago_s, "bath": vessel.bath.name, "entry": kind,
            "by": OPERATORS[int(ago_s) % 2], **more}  # fmt: skip


def _job(
    vessel: Vessel, work: _Work, swab: Swab | None, chance: random.Random, ago_s: float
) -> Iterator[Line]:
    """One job with its readings; bath and clips are a little older afterwards."""
    room = chance.uniform(18.5, 22.5)
    bath = replace(
        vessel.bath, litres=vessel.true_litres, celsius=round(room + chance.uniform(0.0, 1.0), 1),
        room_celsius=room,
    )  # fmt: skip
    circuit = Circuit(
        work.siemens * vessel.factor * chance.gauss(1.0, 0.008),
        polarisation_volts=1.9,
        lead_ohms=0.0131 + vessel.contact_ohms,
        wander_share=0.004,
    )
    part = Part(work.area_dm2, 0.3, efficiency=min(max(chance.gauss(0.25, 0.025), 0.18), 0.32))
    volts = 6.0 if swab is None else 8.0
    if work is TOO_MUCH:
        # Near the limit from the start, so that warming brings it there.
        cold = 1.0 + bath.alpha_per_kelvin * (bath.celsius - 25.0)
        over = 1.0 / (circuit.siemens_at_25 * cold) + circuit.lead_ohms
        volts = round(1.9 + 0.98 * vessel.plate.limit_amps * over, 1)
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
    vessel.age()
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
