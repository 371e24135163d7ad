"""The forecast with and without a bath's earlier runs; `make bench-known` writes KNOWN.md.

    .venv/bin/python -m benchmarks.forecast_known [--each 12]

The baths are those of `outcome_jobs.py`, with a part whose chromium does not end. Five earlier runs
differ from the one that is judged by 4 % in conductance, 8 % in loss and 0.2e-4 1/s in drift. They
lie on numbers that nothing was tuned on.
"""

import argparse
import math
import random
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import median

from benchmarks.outcome_jobs import Bench, Job, draw
from benchmarks.outcome_policies import BEGAN_UTC_NS
from benchmarks.page import Figure, write
from monitor.model.bath_prior import BathPrior, next_prior
from monitor.model.estimate import Forecast
from monitor.model.run import RunFacts
from monitor.model.sample import Sample
from monitor.watch.vigil import Vigil

WRITTEN = Path(__file__).with_name("KNOWN.md")
FAMILIES = ("warming", "lost water", "both", "coarse meters")
EACH, RUNS, LONGEST_S = 12, 5, 2600.0
AFTER_ON_S = (15.0, 60.0, 180.0)
BEFORE_S = (900.0, 600.0, 300.0, 120.0, 60.0)
ALONE, KNOWN = "no history", "five runs"
UNTOLD = math.inf


@dataclass(frozen=True)
class Told:
    """One run that cut out at `trip_s`: what was told, by the time."""

    trip_s: float
    forecasts: list[tuple[float, Forecast]]

    def at(self, t_s: float) -> tuple[float, Forecast]:
        """What was told at a time."""
        return min(self.forecasts, key=lambda one: abs(one[0] - t_s))

    @property
    def sure_s(self) -> float:
        """When a range within a factor of three was told first."""
        for t_s, one in self.forecasts:
            low, high = one.trip_in_low_s, one.trip_in_high_s
            if low is not None and high is not None and high <= 3.0 * max(low, 1.0):
                return t_s
        return UNTOLD


def watch(job: Job, prior: BathPrior | None) -> tuple[Told | None, BathPrior]:
    """One run; None where nothing cut out, and what it has taught."""
    limit = job.plate.limit_amps
    vigil = Vigil(RunFacts("s", "", limit, bath_litres=job.told_litres, poll_s=job.poll_s))
    vigil.expect(prior=prior)
    bench, told, seq = Bench(job), [], 0
    while not bench.has_cut_out and bench.t_s < LONGEST_S:
        bench.step()
        bench.step()
        t_ns = round(bench.t_s * 1e9)
        row = Sample(seq, t_ns, BEGAN_UTC_NS + t_ns, 0, *bench.measured())
        told.append((bench.t_s, vigil.update(row).estimate.forecast))
        seq += 1
    known = vigil.adviser.known
    result = Told(bench.t_s, told) if bench.has_cut_out else None
    return result, next_prior(known.learned, known.default)


def earlier_run(job: Job, n: int, chance: random.Random) -> Job:
    """The bath on an earlier day."""
    circuit, bath = job.circuit, job.bath
    walk = chance.gauss(0.0, 0.2e-4) * 3600.0 / job.plate.limit_amps
    return replace(
        job,
        number=100_000 + 10 * job.number + n,
        circuit=replace(
            circuit,
            siemens_at_25=circuit.siemens_at_25 * math.exp(chance.gauss(-0.03, 0.04)),
            loading_per_amp_hour=circuit.loading_per_amp_hour + walk,
        ),
        bath=replace(bath, watts_per_kelvin=bath.watts_per_kelvin * chance.gauss(1.0, 0.08)),
    )


def play(family: str, number: int) -> dict[str, Told | None]:
    """One bath, without its earlier runs and with them."""
    job = draw(family, number)
    job = replace(job, part=replace(job.part, area_dm2=1000.0 * job.part.area_dm2))
    chance = random.Random(f"{family}/{number}")
    prior: BathPrior | None = None
    for n in range(RUNS):
        _, prior = watch(earlier_run(job, n, chance), prior)
    return {ALONE: watch(job, None)[0], KNOWN: watch(job, prior)[0]}


def cell(runs: Sequence[Told], times: Sequence[float]) -> str:
    """Median error, how often the range held, and how many were told."""
    errors, held, told = [], 0, 0
    for run, t_s in zip(runs, times, strict=True):
        now_s, forecast = run.at(t_s)
        left_s, trip_in_s = run.trip_s - now_s, forecast.trip_in_s
        if trip_in_s is None:
            errors.append(UNTOLD)
            continue
        told += 1
        errors.append(abs(trip_in_s - left_s) / left_s)
        low, high = forecast.trip_in_low_s or 0.0, forecast.trip_in_high_s or UNTOLD
        held += low <= left_s <= high
    if not errors:
        return ""
    middle = median(errors)
    error = "none" if math.isinf(middle) else f"{middle:.2f}"
    return f"{error} / {held / max(told, 1):.0%} ({told} of {len(errors)})"


def main() -> None:
    """Play, print, write."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--each", type=int, default=EACH)
    each = parser.parse_args().each
    names = [(family, n) for family in FAMILIES for n in range(each)]
    with ProcessPoolExecutor() as pool:
        played = list(pool.map(play, *zip(*names, strict=True)))
    ahead = [f"on + {t_s:g} s" for t_s in AFTER_ON_S] + [f"{t_s:g} s before" for t_s in BEFORE_S]
    lines = [f"| | {' | '.join(ahead)} |", f"|{' --- |' * (len(ahead) + 1)}"]
    runs: dict[str, list[Told]] = {}
    for name in (ALONE, KNOWN):
        own = runs[name] = [told for one in played if (told := one[name]) is not None]
        cells = []
        for t_s in AFTER_ON_S:
            some = [run for run in own if run.trip_s > t_s + 60.0]
            cells.append(cell(some, [t_s] * len(some)))
        for before_s in BEFORE_S:
            some = [run for run in own if run.trip_s > before_s + 60.0]
            cells.append(cell(some, [run.trip_s - before_s for run in some]))
        lines.append(f"| {name} | {' | '.join(cells)} |")
    figures = []
    for name, goal_s in ((ALONE, None), (KNOWN, 15.0)):
        sure_s = median(run.sure_s for run in runs[name])
        goal, is_met = ("", None) if goal_s is None else (f"{goal_s:g} s", sure_s <= goal_s)
        what = f"a range within a factor of three is told, {name}"
        figures.append(Figure(what, f"{sure_s:.0f} s after switching on", goal, is_met))
    for name, goal_error in ((ALONE, 0.35), (KNOWN, 0.10)):
        some = [run for run in runs[name] if run.trip_s > 120.0]
        errors = [_error(run, 60.0) for run in some]
        middle = median(errors)
        measured = "mostly not told" if math.isinf(middle) else f"{middle:.2f}"
        what = f"error 60 s after switching on, {name}"
        figures.append(Figure(what, measured, f"{goal_error:g}", middle <= goal_error))
    below = (
        f"{len(runs[KNOWN])} simulated runs that cut out ({each} of each of {len(FAMILIES)} "
        "families). In each cell the median error of the time to the cut-out, how often the "
        "10-90 % range held it, and in how many runs a time was told.\n\n" + "\n".join(lines)
    )
    write(WRITTEN, "Forecasts of a known bath", "make bench-known", figures, below)


def _error(run: Told, t_s: float) -> float:
    now_s, forecast = run.at(t_s)
    left_s = run.trip_s - now_s
    return UNTOLD if forecast.trip_in_s is None else abs(forecast.trip_in_s - left_s) / left_s


if __name__ == "__main__":
    main()
