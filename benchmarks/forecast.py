"""Scores the forecast, its rivals and the oracle on one corpus; writes benchmarks/FORECAST.md.

    .venv/bin/python -m benchmarks.forecast [--runs 22] [--tuning] [--print]

The corpus is drawn from numbers that nothing was tuned on, from 1000 on; `--tuning` draws those
from 0 on instead and only prints. The table is kept in the repository, so that a change that moves
a number shows in review.
"""

import argparse
import math
import os
import sys
import time
from collections.abc import Callable, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from benchmarks import forecast_informed, forecast_oracle, forecast_product
from benchmarks.forecast_rivals import (
    LONG_LINE,
    RIVALS,
    THRESHOLDS,
    judge_rival,
    judge_threshold,
)
from benchmarks.forecast_runs import Run, play
from benchmarks.forecast_scenes import draw, families
from benchmarks.page import Figure, write_text
from benchmarks.score.row import Row, row_of
from benchmarks.score.run_score import RunScore
from benchmarks.score.table import HEAD, cells, distances, table, untold

WRITTEN = Path(__file__).with_name("FORECAST.md")
HOLD_OUT = 1000
RUNS = 22
SOON = 2
PRODUCT, INFORMED, ORACLE = "bathvigil", "informed", "oracle"

INTRODUCTION = """# How good the forecast is

Written by `make bench-forecast`; do not edit. {runs} simulated runs, {per_family} in each of {n}
families, drawn from numbers that nothing was tuned on (`benchmarks/forecast_scenes.py`).

- useful: of the trips that something announced, those with a warning standing that was raised 30 to
  600 s before.
- false raises: warnings in runs that never trip.
- error: median of |told - true| / true of the time to the trip, so long before it; "none" where
  mostly no time was told.
- range holds: how often the 10-90 % range held the truth; 72 to 88 % is right.
- oracle: knows the simulated bath and what the operator will do, and lacks only the noise to come
  (`benchmarks/forecast_oracle.py`). Rivals: `benchmarks/forecast_rivals.py`.
- informed: knows all that too, but must learn from the samples how high the bath's course lies,
  how steep it is and where the noise stands (`benchmarks/forecast_informed.py`). It is told the
  course's shape and every noise's size and memory, and tells a time while the output is off and
  across gaps, where bathvigil tells none. What it misses by, the samples cannot tell.

With a bath's earlier runs, so long before and just after switching on: [KNOWN.md](KNOWN.md).

"""
UNTOLD = """An untold time counts as an infinite error. None is told while the output is off, across
a gap and for six seconds after both, before noise and slope are known, and where no rise stands
clear of the noise.

"""


@dataclass(frozen=True)
class Judged:
    """One run, with what each method scored in it."""

    family: str
    is_slow: bool
    scores: dict[str, RunScore]
    samples_to_short: int | None = None


def judge(family: str, number: int) -> Judged:
    """Play one run and let every method judge it."""
    run = play(draw(family, number))
    scores = {
        PRODUCT: forecast_product.judge(run),
        INFORMED: forecast_informed.judge(run),
        ORACLE: forecast_oracle.judge(run),
    }
    for name, share in THRESHOLDS.items():
        scores[name] = judge_threshold(run, share)
    for name, make in RIVALS.items():
        scores[name] = judge_rival(run, make())
    to_short = forecast_product.samples_to_short(run) if family == "short" else None
    return Judged(family, run.is_slow, scores, to_short)


def judge_product(family: str, number: int) -> Judged:
    """Play one run and let only the forecast itself judge it."""
    run: Run = play(draw(family, number))
    return Judged(family, run.is_slow, {PRODUCT: forecast_product.judge(run)})


def rows_by_family(judged: list[Judged], method: str) -> dict[str, Row]:
    """One row a family, and one over all."""
    rows = {
        family: row_of([(j.scores[method], j.is_slow) for j in judged if j.family == family])
        for family in families()
    }
    rows["all"] = row_of([(j.scores[method], j.is_slow) for j in judged])
    return rows


def rows_by_method(judged: list[Judged]) -> dict[str, Row]:
    """One row a method, over all families."""
    return {
        name: row_of([(j.scores[name], j.is_slow) for j in judged])
        for name in (PRODUCT, *THRESHOLDS, *RIVALS, INFORMED, ORACLE)
    }


def figures_of(methods: Mapping[str, Row]) -> list[Figure]:
    """Ours, held to its goals, beside the oracle and all other methods; rounded as shown."""
    ours, oracle = methods[PRODUCT], methods[ORACLE]
    goals: dict[str, tuple[str, bool | None]] = {
        "useful": ("97 %", round(ours.useful_share or 0.0, 2) >= 0.97),
        "false raises": ("1 in 50 h", ours.false_raises <= ours.quiet_hours / 50),
        "range holds": ("72 to 88 %", 0.72 <= round(ours.coverage or 0.0, 2) <= 0.88),
    }
    for ahead_s in (120.0, 60.0):
        error, best = (row.errors.get(ahead_s, math.inf) for row in (ours, oracle))
        is_near = round(error, 2) <= 1.5 * round(best, 2)
        goals[f"error {ahead_s:.0f} s"] = ("1.5 times the oracle's", is_near)
    texts = {name: dict(zip(HEAD, cells(row), strict=True)) for name, row in methods.items()}
    figures = []
    for column in HEAD:
        if column in ("runs", "slow trips", "quiet hours"):
            continue
        goal, is_met = goals.get(column, ("", None))
        measured = texts[PRODUCT][column]
        if column == "false raises":
            measured += f" in {ours.quiet_hours:.1f} h"
        others = [name for name in methods if name not in (PRODUCT, ORACLE)]
        beside = ", ".join(f"{name} {texts[name][column]}" for name in others)
        against = f"oracle {texts[ORACLE][column]}; {beside}"
        figures.append(Figure(f"{column}, {ours.runs} runs", measured, goal, is_met, against))
    return figures


def report(judged: list[Judged], per_family: int) -> str:
    """The whole of FORECAST.md."""
    product, informed, oracle, line = (
        rows_by_family(judged, method) for method in (PRODUCT, INFORMED, ORACLE, LONG_LINE)
    )
    methods = rows_by_method(judged)
    head = INTRODUCTION.format(runs=len(judged), per_family=per_family, n=len(families()))
    return (
        f"{head}## Against the rivals\n\n{table('method', methods)}"
        f"\n## Family by family\n\n{table('family', product)}"
        f"\n## The oracle, family by family\n\n{table('family', oracle)}"
        f"\n## The informed reader, family by family\n\n{table('family', informed)}"
        f"\n## Beside a {LONG_LINE}\n\n{distances(product, line, 'line')}"
        f"\n## Distance to the oracle\n\n{distances(product, oracle)}"
        f"\n## Distance to the informed reader\n\n{distances(product, informed, 'informed')}"
        f"\n## Where no time was told\n\n{UNTOLD}{untold(product)}"
        f"\n## Shorts\n\n{_shorts(judged)}"
    )


def _shorts(judged: list[Judged]) -> str:
    shorts = [j.samples_to_short for j in judged if j.family == "short"]
    seen = [samples for samples in shorts if samples is not None]
    soon = sum(samples <= SOON for samples in seen)
    return (
        f"{soon} of {len(seen)} were said as such within {SOON} samples of the first that showed"
        f" them; {len(shorts) - len(seen)} were over between two polls.\n"
    )


def work(
    judge_run: Callable[[str, int], Judged], first: int, per_family: int, processes: int
) -> list[Judged]:
    """Judge a corpus."""
    jobs = [(family, n) for family in families() for n in range(first, first + per_family)]
    names, numbers = zip(*jobs, strict=True)
    if processes == 1:
        return list(map(judge_run, names, numbers))
    with ProcessPoolExecutor(processes) as pool:
        return list(pool.map(judge_run, names, numbers, chunksize=4))


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=RUNS, help="runs a family")
    parser.add_argument("--tuning", action="store_true", help="the tuning numbers; only prints")
    parser.add_argument("--print", action="store_true", help="print, and write nothing")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    chosen = parser.parse_args()
    began_s = time.perf_counter()
    first = 0 if chosen.tuning else HOLD_OUT
    judged = work(judge, first, chosen.runs, chosen.processes)
    text = report(judged, chosen.runs)
    if chosen.tuning or chosen.print or chosen.runs != RUNS:
        sys.stdout.write(text)
    else:
        shorts = Figure("shorts", _shorts(judged).rstrip(".\n"), "all that a sample saw")
        figures = [*figures_of(rows_by_method(judged)), shorts]
        write_text(WRITTEN, text, "make bench-forecast", figures)
    print(f"{time.perf_counter() - began_s:.0f} s", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
