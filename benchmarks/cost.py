"""What one sample costs, estimators and alarms together: `make bench-cost` writes COST.md.

    .venv/bin/python -m benchmarks.cost

The recorder's own `Vigil`, in pure Python, over runs of four families that were not held out; the
same scenes polled at four rates. Every run is watched several times; the least counts, since a
busy machine only adds.
"""

import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from benchmarks.forecast_runs import Run, play
from benchmarks.forecast_scenes import draw
from benchmarks.page import Figure, write
from monitor.analysis.chain import Chain
from monitor.model.sample import Gap, Sample
from monitor.watch.vigil import Vigil

WRITTEN = Path(__file__).with_name("COST.md")
FAMILIES = ("tank rise", "brush rise", "evaporation", "stable")
NUMBER = 3
RATES_HZ = (1.0, 2.0, 5.0, 10.0)
SECONDS = 600.0
TIMES = 7
MOST_US = 25.0


def least_us(runs: list[Run], watcher: Callable[[Run], Callable[[Sample | Gap], object]]) -> float:
    """Microseconds a sample, each run at its quickest."""
    seconds, samples = 0.0, 0
    for run in runs:
        rows = [row for row in run.rows if row.t_s < SECONDS]
        least = float("inf")
        for _ in range(TIMES):
            update = watcher(run)
            began = time.process_time()
            for row in rows:
                update(row)
            least = min(least, time.process_time() - began)
        seconds += least
        samples += len(rows)
    return 1e6 * seconds / samples


def chain_of(run: Run) -> Callable[[Sample | Gap], object]:
    """The estimators alone."""
    facts = run.facts
    return Chain(facts.limit_amps, poll_s=facts.poll_s, limit_kind=facts.limit_kind).update


def vigil_of(run: Run) -> Callable[[Sample | Gap], object]:
    """Estimators, conditions, alarms, causes and prompts."""
    return Vigil(run.facts).update


def plain_loop_us() -> float:
    """Microseconds for a thousand steps of a loop that anybody can run: this machine's pace."""
    least = float("inf")
    for _ in range(20 * TIMES):
        total, began = 0.0, time.process_time()
        for step in range(10_000):
            total += 0.5 * step
        least = min(least, time.process_time() - began)
    return 1e5 * least


def main() -> int:
    """Measure and write the page; 1 where a rate costs more than the goal."""
    figures = []
    for rate_hz in RATES_HZ:
        runs = [play(replace(draw(family, NUMBER), rate_hz=rate_hz)) for family in FAMILIES]
        whole, alone = least_us(runs, vigil_of), least_us(runs, chain_of)
        is_met = whole <= MOST_US
        what = f"one sample at {rate_hz:g} Hz, estimators and alarms"
        figures.append(
            Figure(
                what, f"{whole:.1f} us", f"at most {MOST_US:g} us", is_met,
                f"estimators alone {alone:.1f} us",
            )
        )  # fmt: skip
    pace = f"{plain_loop_us():.1f} us"
    figures.append(Figure("this machine's pace: 1,000 times `total += 0.5 * step`", pace))
    below = (
        f"Processor time in pure Python, the least of {TIMES} times, over {SECONDS:.0f} s each of "
        f"{', '.join(FAMILIES)}."
    )
    return write(WRITTEN, "What a sample costs", "make bench-cost", figures, below)


if __name__ == "__main__":
    sys.exit(main())
