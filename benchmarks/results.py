"""`make bench`: every benchmark that fits in 20 minutes run in turn, and RESULTS.md of all.

    python -m benchmarks.results [--page] [--only NAME ...]

Figures come out of the pages that the benchmarks write. Those that take longer are read from
their last page, with the day on which it was kept.
"""

import argparse
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from benchmarks.page import Figure, machine, table
from benchmarks.results_tables import (
    Reader,
    alarms,
    bath_test,
    finish,
    forecast,
    job,
    memory,
    plain,
)

ROOT = Path(__file__).parents[1]
HERE = ROOT / "benchmarks"
REPORT = HERE / "RESULTS.md"
LONGEST_S = 900.0


@dataclass(frozen=True, slots=True)
class Bench:
    """One benchmark.

    Parameters
    ----------
    page
        What it writes.
    module
        What is run, with its arguments.
    target
        Of make, that does the same in full.
    is_long
        Not run by `make bench`; its last page is read.
    """

    subject: str
    page: str
    module: tuple[str, ...]
    target: str
    read: Reader = plain
    is_long: bool = False

    @property
    def name(self) -> str:
        """As `--only` takes it."""
        return self.page.removesuffix(".md").lower()


BENCHES = (
    Bench("Forecast", "FORECAST.md", ("benchmarks.forecast",), "bench-forecast", forecast),
    Bench("Forecast", "FINISH.md", ("benchmarks.finish",), "bench-finish", finish, is_long=True),
    Bench("Links", "LINKS.md", ("benchmarks.links",), "bench-links", is_long=True),
    Bench("Store", "STORE.md", ("benchmarks.store",), "bench-store"),
    Bench("Store", "MEMORY.md", ("benchmarks.memory",), "bench-memory", memory),
    Bench("Store", "KILLS.md", ("benchmarks.kills",), "bench-kills", is_long=True),
    Bench("Store", "DAMAGE.md", ("benchmarks.damage",), "bench-damage"),
    Bench("Store", "FORWARD.md", ("benchmarks.forward",), "bench-forward"),
    Bench("Screens", "SCREENS.md", ("benchmarks.screens",), "bench-screens"),
    Bench("Screens", "START.md", ("benchmarks.start",), "bench-start"),
    Bench("Alarms", "ALARMS.md", ("benchmarks.alarms",), "bench-alarms", alarms),
    Bench("Alarms", "BATH-TEST.md", ("benchmarks.bath",), "bath-test", bath_test, is_long=True),
    Bench("Job", "JOB.md", ("benchmarks.job",), "bench-job", job),
    Bench("Cost as the work grows", "GROWTH.md", ("benchmarks.growth",), "bench-growth"),
    Bench("Packaging", "INSTALLS.md", ("benchmarks.installs",), "installs", is_long=True),
)


@dataclass(frozen=True, slots=True)
class Run:
    """How one benchmark went now."""

    code: int
    seconds: float


def main() -> int:
    """Run what was asked for and write the page; 1 where a benchmark could not be run."""
    parser = argparse.ArgumentParser(description=__doc__)
    names = [one.name for one in BENCHES]
    parser.add_argument("--page", action="store_true", help="run nothing; write the page anew")
    parser.add_argument("--only", choices=names, nargs="+", help="these, long ones too")
    said = parser.parse_args()
    runs: dict[str, Run] = {}
    for one in BENCHES:
        if said.page or (one.name not in said.only if said.only else one.is_long):
            continue
        print(f"--- {one.name}", flush=True)
        runs[one.name] = run(one)
        print(f"--- {one.name}: {runs[one.name].seconds:.0f} s", flush=True)
    REPORT.write_text(whole_page(runs), encoding="utf-8")
    return int(any(run.code > 1 for run in runs.values()))


def run(one: Bench) -> Run:
    """Run a benchmark; its exit code 1 only says that a goal was missed."""
    began_s = time.monotonic()
    line = [sys.executable, "-m", *one.module]
    try:
        code = subprocess.run(line, cwd=ROOT, check=False, timeout=LONGEST_S).returncode
    except subprocess.TimeoutExpired:
        code = 124
    return Run(code, time.monotonic() - began_s)


def whole_page(runs: dict[str, Run]) -> str:
    """RESULTS.md."""
    parts = [
        "# How good it is\n",
        "Written by `make bench` from the pages that the benchmarks wrote; do not edit. "
        "`python -m benchmarks.results --page` only puts the pages together.\n",
        f"Put together on {machine()}.\n",
    ]
    figures = {one.name: figures_of(one) for one in BENCHES}
    missed = [
        f"- {one.subject}: {figure.what}: {figure.measured}; the goal is {figure.goal}"
        for one in BENCHES
        for figure in figures[one.name]
        if figure.is_met is False
    ]
    kept = sum(figure.is_met is True for found in figures.values() for figure in found)
    parts.append(f"{kept} goals met, {len(missed)} not met.\n")
    parts += ["## Not met\n", "\n".join(missed) + "\n"] if missed else []
    for subject in dict.fromkeys(one.subject for one in BENCHES):
        parts.append(f"## {subject}\n")
        for one in BENCHES:
            if one.subject == subject and figures[one.name]:
                parts.append(f"{origin(one, runs.get(one.name))}\n")
                parts.append(f"{table(figures[one.name])}\n")
    return "\n".join(parts)


def figures_of(one: Bench) -> Sequence[Figure]:
    """The rows of a benchmark's last page; none where it never ran."""
    page = HERE / one.page
    return list(one.read(page.read_text(encoding="utf-8"))) if page.exists() else []


def origin(one: Bench, ran: Run | None) -> str:
    """Where a table comes from, when, and how to get it anew."""
    link = f"`make {one.target}` ([{one.page}]({one.page}))"
    if ran is None:
        return f"{link}, kept on {day_of(one)}; not part of this run."
    if ran.code > 1:
        return f"{link} FAILED in this run, after {ran.seconds:.0f} s; from {day_of(one)}."
    return f"{link}, in this run, {ran.seconds:.0f} s."


def day_of(one: Bench) -> str:
    """The day of the last commit of its page."""
    line = ["git", "log", "-1", "--format=%cs", "--", str(HERE / one.page)]
    done = subprocess.run(line, cwd=ROOT, capture_output=True, text=True, check=False)
    return done.stdout.strip() or "a day that is not known"


if __name__ == "__main__":
    sys.exit(main())
