"""Plans of jobs against how these jobs then go; `make bench-plan` writes PLAN.md.

    .venv/bin/python -m benchmarks.planned [--each 15]

The baths are those of `outcome_jobs.py`. A plan goes by five earlier runs of the bath, which
differ from the job's own by 4 % in conductance, 8 % in loss and 0.2e-4 1/s in drift; or by no run,
with the amps that like jobs had. Then the job is played at the volts that were asked for and at
those that the plan chose, with no hand at the knob.
"""

import argparse
import random
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path
from statistics import median
from typing import NamedTuple

from benchmarks.forecast_draw import ALPHA
from benchmarks.forecast_known import RUNS, earlier_run, watch
from benchmarks.outcome_jobs import Bench, Job, draw
from benchmarks.page import Figure, write
from benchmarks.switch_on import drawn_amps
from monitor.analysis.bath_heat import CAUSTIC_PER_KELVIN
from monitor.analysis.known_bath import KnownBath
from monitor.analysis.planned_strip import Level, PlannedStrip
from monitor.baths.usual_draw import SPREAD_AT_25
from monitor.model.bath_prior import BathPrior
from monitor.model.strip_plan import Outlook, Range

WRITTEN = Path(__file__).with_name("PLAN.md")
FAMILIES = ("warming", "lost water", "both", "settles high", "coarse meters", "quiet")
EACH = 15
LONGEST_S = 5400.0
CHARGE_SPREAD = 0.15
LOWEST_VOLTS = 4.0


class Gone(NamedTuple):
    """How a job went."""

    amps: float
    end_s: float
    warming: float
    has_cut_out: bool


class Planned(NamedTuple):
    """One job: its plan, how it went as asked, and how at the volts chosen."""

    asked: Outlook
    as_asked: Gone
    chosen_volts: float | None
    as_chosen: Gone


def go(job: Job, volts: float) -> Gone:
    """Play a job at some volts to the end of its charge, or to the cut-out."""
    bench = Bench(replace(job, volts=volts))
    passed, amps, celsius = 0.0, 0.0, bench.cell.celsius
    while bench.t_s < LONGEST_S and not bench.has_cut_out and passed < job.amp_hours:
        bench.step()
        passed += bench.supply.amps * 0.25 / 3600.0
        if bench.t_s == 10.0:
            amps = bench.supply.amps
    return Gone(amps, bench.t_s, bench.cell.celsius - celsius, bench.has_cut_out)


def plan(job: Job, prior: BathPrior | None, told: Range) -> PlannedStrip:
    """The plan of a job, by what is usual at its volts."""
    warm = 1.0 + ALPHA * (job.bath.celsius - 25.0)
    amps = drawn_amps(job, warm * job.circuit.siemens_at_25)
    usual = Range(amps * (1.0 - SPREAD_AT_25), amps, amps * (1.0 + SPREAD_AT_25))
    limit = job.plate.limit_amps
    known = KnownBath(limit, job.told_litres, CAUSTIC_PER_KELVIN)
    if prior is not None:
        known.know(prior)
    return PlannedStrip(known, Level(usual, job.volts), 0.0, True, limit, None, told)


def play(family: str, number: int, has_history: bool) -> Planned:
    """One job, planned and played."""
    job = draw(family, number)
    chance = random.Random(f"plan/{family}/{number}")
    prior: BathPrior | None = None
    if has_history:
        for n in range(RUNS):
            _, prior = watch(earlier_run(job, n, chance), prior)
    likely = job.amp_hours * chance.uniform(1.0 - CHARGE_SPREAD, 1.0 + CHARGE_SPREAD)
    told = Range(likely / (1.0 + CHARGE_SPREAD), likely, likely / (1.0 - CHARGE_SPREAD))
    # The level that like jobs had is not this job's own.
    level = replace(
        job,
        circuit=replace(
            job.circuit, siemens_at_25=job.circuit.siemens_at_25 * chance.gauss(1.0, 0.02)
        ),
    )
    strip = plan(level, prior, told)
    asked = strip.at(job.volts)
    chosen = None if strip.will_do(job.volts) else strip.highest(LOWEST_VOLTS, job.volts)
    as_asked = go(job, job.volts)
    return Planned(asked, as_asked, chosen, as_asked if chosen is None else go(job, chosen))


def line_of(name: str, played: Sequence[Planned]) -> tuple[str, list[Figure]]:
    """What is shown of some jobs."""
    trips = [one for one in played if one.as_asked.has_cut_out]
    rest = [one for one in played if not one.as_asked.has_cut_out]
    foreseen = sum(one.chosen_volts is not None for one in trips)
    needless = sum(one.chosen_volts is not None for one in rest)
    saved = sum(not one.as_chosen.has_cut_out for one in trips)
    amps = [one.asked.amps.low <= one.as_asked.amps <= one.asked.amps.high for one in played]
    ended = [one for one in rest if one.asked.seconds is not None]
    times = [
        one.asked.seconds.low <= one.as_asked.end_s <= one.asked.seconds.high
        for one in ended
        if one.asked.seconds is not None
    ]
    errors = [
        abs(one.asked.seconds.middle / one.as_asked.end_s - 1.0)
        for one in ended
        if one.asked.seconds is not None
    ]
    slower = [
        one.as_chosen.end_s / one.as_asked.end_s for one in rest if one.chosen_volts is not None
    ]
    cells = (
        f"{foreseen} of {len(trips)}",
        f"{saved} of {len(trips)}",
        f"{needless} of {len(rest)}" + (f" ({median(slower):.2f} times as long)" if slower else ""),
        f"{sum(amps) / len(amps):.0%}",
        f"{sum(times) / max(len(times), 1):.0%}",
        f"{median(errors):.2f}" if errors else "",
    )
    figures = [
        Figure(f"{name}: cut-outs foreseen", cells[0], "90 %", foreseen >= 0.9 * len(trips)),
        Figure(f"{name}: none at the volts chosen", cells[1], "90 %", saved >= 0.9 * len(trips)),
        Figure(f"{name}: lowered in vain", cells[2]),
        Figure(f"{name}: amps within the range", cells[3], "80 %", sum(amps) >= 0.8 * len(amps)),
        Figure(f"{name}: time within the range", cells[4], "80 %", sum(times) >= 0.8 * len(times)),
        Figure(f"{name}: median error of the time", cells[5]),
    ]
    return f"| {name} | {' | '.join(cells)} |", figures


def main() -> None:
    """Play, print, write."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--each", type=int, default=EACH)
    each = parser.parse_args().each
    figures: list[Figure] = []
    for name, has_history in (("no history", False), ("five runs", True)):
        todo = [(family, n, has_history) for family in FAMILIES for n in range(each)]
        with ProcessPoolExecutor() as pool:
            played = list(pool.map(play, *zip(*todo, strict=True)))
        line, told = line_of(name, played)
        print(line, flush=True)
        figures += told
    below = (
        f"{each} jobs in each of {len(FAMILIES)} families, none of them tuned on. The charge is "
        f"told give or take {CHARGE_SPREAD:.0%}, the litres give or take a tenth, the amps of like "
        "jobs are 2 % off.\nIn vain: volts that were lowered though the job would not have cut out."
    )
    write(WRITTEN, "Plans, and how the jobs then went", "make bench-plan", figures, below)


if __name__ == "__main__":
    main()
