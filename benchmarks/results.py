"""`make bench`: every benchmark that fits in 20 minutes run in turn, and RESULTS.md of all.

    python -m benchmarks.results [--page] [--all] [--only NAME ...]

Figures come out of the records (JSON) that the benchmarks write beside their pages. The quick ones
come first; what would pass the 20 minutes is read from its last record, with its day.
"""

import argparse
import re
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from benchmarks.page import Figure, figures_of, machine, record_of, table

ROOT = Path(__file__).parents[1]
HERE = ROOT / "benchmarks"
REPORT = HERE / "RESULTS.md"
BUDGET_S = 1200.0
LONGEST_S = 5400.0


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
        Not run by `make bench`; its last record is read.
    about_s
        How long it takes on a quiet machine of two processors.
    """

    subject: str
    page: str
    module: tuple[str, ...]
    target: str
    is_long: bool = False
    about_s: float = 60.0

    @property
    def name(self) -> str:
        """As `--only` takes it."""
        return self.page.removesuffix(".md").lower()

    @property
    def path(self) -> Path:
        """Where its page is, and its record beside it."""
        return HERE / self.page


BENCHES = (
    Bench(
        "Forecast",
        "FORECAST.md",
        ("benchmarks.forecast",),
        "bench-forecast",
        about_s=300.0,
    ),
    Bench("Forecast", "FINISH.md", ("benchmarks.finish",), "bench-finish", is_long=True),
    Bench("Forecast", "COST.md", ("benchmarks.cost",), "bench-cost"),
    Bench("Links", "LINKS.md", ("benchmarks.links",), "bench-links", is_long=True),
    Bench(
        "Links", "INSTRUMENTS.md", ("benchmarks.instruments",), "bench-instruments", is_long=True
    ),
    Bench("Store", "STORE.md", ("benchmarks.store",), "bench-store", about_s=240.0),
    Bench("Store", "MEMORY.md", ("benchmarks.memory",), "bench-memory", is_long=True),
    Bench("Store", "KILLS.md", ("benchmarks.kills",), "bench-kills", is_long=True),
    Bench("Store", "DAMAGE.md", ("benchmarks.damage",), "bench-damage", about_s=60.0),
    Bench("Store", "FORWARD.md", ("benchmarks.forward",), "bench-forward", about_s=240.0),
    Bench("Screens", "SCREENS.md", ("benchmarks.screens",), "bench-screens", about_s=600.0),
    Bench("Screens", "PAGE.md", ("benchmarks.phone",), "bench-phone", about_s=80.0),
    Bench("Screens", "START.md", ("benchmarks.start",), "bench-start", about_s=30.0),
    Bench("Alarms", "ALARMS.md", ("benchmarks.alarms",), "bench-alarms", about_s=330.0),
    Bench(
        "Alarms",
        "HAZARDS.md",
        ("benchmarks.hazards",),
        "bench-hazards",
        about_s=120.0,
    ),
    Bench("Forecast", "KNOWN.md", ("benchmarks.forecast_known",), "bench-known", about_s=120.0),
    Bench("Alarms", "OUTCOME.md", ("benchmarks.outcome",), "bench-outcome", is_long=True),
    Bench("Alarms", "SWITCH-ON.md", ("benchmarks.switch_on",), "bench-switch-on", about_s=15.0),
    Bench("Forecast", "PLAN.md", ("benchmarks.planned",), "bench-plan", about_s=240.0),
    Bench("Alarms", "BATH-TEST.md", ("benchmarks.bath",), "bath-test", is_long=True),
    Bench("Job", "JOB.md", ("benchmarks.job",), "bench-job", about_s=15.0),
    Bench(
        "Cost as the work grows", "GROWTH.md", ("benchmarks.growth",), "bench-growth", about_s=180.0
    ),
    Bench("Packaging", "INSTALLS.md", ("benchmarks.installs",), "installs", is_long=True),
    Bench("Edges and tests", "FUZZ.md", ("benchmarks.fuzz",), "fuzz", is_long=True),
    Bench("Edges and tests", "MUTATION.md", ("benchmarks.mutation",), "mutation", is_long=True),
)


CAUSES = (
    (
        r"^error (120|60) s",
        "Bound: the oracle knows the simulator's state; the row `informed` knows how the bath "
        "behaves and must learn its state from the samples, as anybody must: its error, in the "
        "same row, is what can be come near.",
    ),
    (
        r"^one sample at 1 Hz",
        "Cause: at 1 Hz each sample brings a new second, for which the trend and every fourth time "
        "the chances of crossing are reckoned; a faster poll shares that. What is measured is this "
        "machine too: the page has its pace.",
    ),
)
"""What a figure is called, and why it misses its goal, or what bounds it."""


@dataclass(frozen=True, slots=True)
class Run:
    """How one benchmark went now."""

    code: int
    seconds: float


def main() -> int:
    """Run what was asked for and write the page; 1 where a benchmark could not be run."""
    parser = argparse.ArgumentParser(description=__doc__)
    names = [bench.name for bench in BENCHES]
    parser.add_argument("--page", action="store_true", help="run nothing; write the page anew")
    parser.add_argument("--only", choices=names, nargs="+", help="these, long ones too")
    parser.add_argument("--all", action="store_true", help="whatever it takes: four hours")
    options = parser.parse_args()
    runs: dict[str, Run] = {}
    began_s = time.monotonic()
    for bench in [] if options.page else wanted(options.only, options.all):
        spent_s = time.monotonic() - began_s
        if not (options.only or options.all) and spent_s + bench.about_s > BUDGET_S:
            print(f"--- {bench.name}: left out after {spent_s:.0f} s", flush=True)
            continue
        print(f"--- {bench.name}", flush=True)
        runs[bench.name] = run(bench)
        print(f"--- {bench.name}: {runs[bench.name].seconds:.0f} s", flush=True)
    REPORT.write_text(whole_page(runs), encoding="utf-8")
    return int(any(run.code > 1 for run in runs.values()))


def wanted(only: Sequence[str] | None, is_all: bool) -> list[Bench]:
    """What is to be run, the quickest first."""
    asked = [
        bench for bench in BENCHES if (bench.name in only if only else is_all or not bench.is_long)
    ]
    return sorted(asked, key=lambda bench: bench.about_s)


def run(bench: Bench) -> Run:
    """Run a benchmark; its exit code 1 only says that a goal was missed."""
    began_s = time.monotonic()
    line = [sys.executable, "-m", *bench.module]
    try:
        code = subprocess.run(line, cwd=ROOT, check=False, timeout=LONGEST_S).returncode
    except subprocess.TimeoutExpired:
        code = 124
    return Run(code, time.monotonic() - began_s)


def whole_page(runs: dict[str, Run]) -> str:
    """RESULTS.md."""
    parts = [
        "# How good it is\n",
        "Written by `make bench` from the records of the benchmarks; do not edit. "
        "`python -m benchmarks.results --page` only puts the pages together.\n",
        f"Put together on {machine()}.\n",
    ]
    figures = {bench.name: figures_of(bench.path) for bench in BENCHES}
    missed = [
        f"- {bench.subject}: {figure.what}: {figure.measured}; the goal is {figure.goal}."
        f"{cause_of(figure)}"
        for bench in BENCHES
        for figure in figures[bench.name]
        if figure.is_met is False
    ]
    kept = sum(figure.is_met is True for rows in figures.values() for figure in rows)
    parts.append(f"{kept} goals met, {len(missed)} not met.\n")
    parts += ["## Not met\n", "\n".join(missed) + "\n"] if missed else []
    for subject in dict.fromkeys(bench.subject for bench in BENCHES):
        parts.append(f"## {subject}\n")
        for bench in BENCHES:
            if bench.subject == subject and figures[bench.name]:
                parts.append(f"{origin(bench, runs.get(bench.name))}\n")
                parts.append(f"{table(figures[bench.name])}\n")
    return "\n".join(parts)


def cause_of(figure: Figure) -> str:
    """Why a goal is missed, as a further sentence; "" where nobody has said.

    Examples
    --------
    >>> cause_of(Figure("error 60 s, 308 runs", "0.27")).startswith(" Bound: the oracle")
    True
    """
    return next((f" {why}" for what, why in CAUSES if re.search(what, figure.what)), "")


def origin(bench: Bench, ran: Run | None) -> str:
    """Where a table comes from, when, and how to get it anew."""
    link = f"`make {bench.target}` ([{bench.page}]({bench.page}))"
    day = record_of(bench.path)["day"]
    if ran is None:
        return f"{link}, kept on {day}; not part of this run."
    if ran.code > 1:
        return f"{link} FAILED in this run, after {ran.seconds:.0f} s; from {day}."
    return f"{link}, in this run, {ran.seconds:.0f} s."


if __name__ == "__main__":
    sys.exit(main())
