"""Plays every row over many draws, and quiet hours beside them; writes benchmarks/HAZARDS.md.

    .venv/bin/python -m benchmarks.hazards [--row A14 ...] [--draws 50] [--seed 0] [--both]

With `--row` only these rows are played, and each draw that went wrong is printed with what was
said of it. Nothing is written then.
"""

import argparse
import time

from benchmarks.hazards.chain import fast
from benchmarks.hazards.draw import draw
from benchmarks.hazards.judge import Outcome, judge
from benchmarks.hazards.row import Row
from benchmarks.hazards.rows import ROWS

DRAWS = 50


def play(row: Row, number: int, seed: int = 0) -> Outcome:
    """One draw of one row, through the program's own chain."""
    played = row.scene(draw(row.row, number, seed))
    return judge(row, played, fast(played))


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--row", nargs="+", choices=list(ROWS), help="only these; prints")
    parser.add_argument("--draws", type=int, default=DRAWS)
    parser.add_argument("--seed", type=int, default=0)
    chosen = parser.parse_args()
    for name in chosen.row or ROWS:
        began_s = time.perf_counter()
        outcomes = [play(ROWS[name], n, chosen.seed) for n in range(chosen.draws)]
        for number, outcome in enumerate(outcomes):
            if chosen.row and not outcome.is_right:
                print(f"\n{name} draw {number}:", *outcome.faults, sep="\n  - ")
                print(*(f"    {said.line}" for said in outcome.said), sep="\n")
        right = sum(outcome.is_right for outcome in outcomes)
        delays = sorted(o.delay_s for o in outcomes if o.delay_s is not None)
        delay = f"{delays[len(delays) // 2]:.1f} s, worst {delays[-1]:.1f}" if delays else "-"
        print(
            f"{name:6} {right} of {len(outcomes)} right, {delay}"
            f" ({time.perf_counter() - began_s:.1f} s) {ROWS[name].title}",
            flush=True,
        )
    return 0
