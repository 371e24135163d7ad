"""`make fuzz`: every edge tried for its share of the time, with new draws; FUZZ.md.

    python -m benchmarks.fuzz [MINUTES] [--only WORDS]

An edge that breaks is told with its smallest example, and the exit code is 1. Memory is that of a
process for each edge alone.
"""

import argparse
import json
import os
import resource
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from hypothesis import HealthCheck, given, seed, settings

from benchmarks.fuzz_edges import WIRE_EDGES, Edge
from benchmarks.fuzz_files import FILE_EDGES, tidy
from benchmarks.page import Figure, figures_of, record_of, write

HERE = Path(__file__).parent
REPORT = HERE / "FUZZ.md"
EDGES = (*WIRE_EDGES, *FILE_EDGES)
ROUND = 400
"""Draws between two looks at the clock."""
GROWTH_MB = 64.0
"""More than this between the first and the last round would be a leak."""
BELOW = """Each edge has as much of the time. Nothing breaks: no exception but the edge's own, no
value that nobody sent, no wait without end, no memory that grows. What broke on the way here is
among the tests of the part that broke."""


def tried(edge: Edge, seconds: float, first_seed: int) -> dict[str, object]:
    """Try one edge in this process; how many draws, what broke, and how memory grew."""
    count = 0

    def once(drawn: object) -> None:
        nonlocal count
        count += 1
        edge.check(drawn)

    ends_s = time.monotonic() + seconds
    number, after_first_mb = first_seed, 0.0
    try:
        while time.monotonic() < ends_s:
            # Without a memory of its own each round draws what no round before has drawn.
            rules = settings(
                max_examples=ROUND,
                deadline=None,
                database=None,
                suppress_health_check=list(HealthCheck),
            )
            seed(number)(rules(given(edge.draws)(once)))()
            number += 1
            after_first_mb = after_first_mb or memory_mb()
    except Exception as broken:  # whatever breaks is the finding
        notes = " ".join(getattr(broken, "__notes__", []))
        fault = f"{type(broken).__name__}: {broken} {notes}"
        return {"count": count, "broke": " ".join(fault.split())[:600], "grown": 0.0}
    finally:
        tidy()
    return {"count": count, "broke": "", "grown": memory_mb() - after_first_mb}


def memory_mb() -> float:
    """The most that this process has had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def anew(figures: Sequence[Figure]) -> list[Figure]:
    """The last page's figures, with these tried again: a part that broke and was mended."""
    note = f"tried again on {datetime.now(UTC):%Y-%m-%d}"
    again = {figure.what: replace(figure, against=note) for figure in figures}
    return [again.get(figure.what, figure) for figure in figures_of(REPORT)]


def main() -> int:
    """Try all edges and write the page, or their rows of it; 1 where one broke."""
    parser = argparse.ArgumentParser()
    parser.add_argument("minutes", type=float, nargs="?", default=60.0)
    parser.add_argument("--only", default="", help="edges whose names hold these words")
    parser.add_argument("--edge", help=argparse.SUPPRESS)
    options = parser.parse_args()
    edges = [candidate for candidate in EDGES if options.only in candidate.name]
    seconds = 60.0 * options.minutes / max(len(edges), 1)
    if options.edge is not None:
        edge = next(candidate for candidate in EDGES if candidate.name == options.edge)
        print(json.dumps(tried(edge, 60.0 * options.minutes, int.from_bytes(os.urandom(4)))))
        return 0
    figures = []
    for edge in edges:
        line = [sys.executable, "-m", "benchmarks.fuzz", str(seconds / 60.0), "--edge", edge.name]
        done = subprocess.run(line, capture_output=True, text=True, check=False, cwd=HERE.parent)
        if done.returncode:
            figures.append(Figure(edge.name, f"failed: {done.stderr[-300:]}", "", False))
            continue
        result = json.loads(done.stdout)
        is_met = not result["broke"] and result["grown"] < GROWTH_MB
        words = f"{result['count']:,} draws; memory grew by {result['grown']:.0f} MB"
        words += f"; BROKE: {result['broke']}" if result["broke"] else ""
        figures.append(Figure(edge.name, words.replace("|", "/"), "nothing breaks", is_met))
        print(f"{edge.name}: {words}", flush=True)
    command = f"make fuzz MINUTES={options.minutes:g}"
    if options.only:
        command, figures = record_of(REPORT)["command"], anew(figures)
    return write(REPORT, "Fuzzed edges", command, figures, BELOW)


if __name__ == "__main__":
    sys.exit(main())
