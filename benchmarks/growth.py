"""`make bench-growth`: what work costs as it grows, with the exponents; GROWTH.md and a picture.

    python -m benchmarks.growth [--full]

Each figure is taken at several sizes in this run. An exponent of 1 is as fast as the work; a screen
that does not grow has 0.
"""

import argparse
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import partial
from itertools import islice
from pathlib import Path

from benchmarks.growth_series import Series, drawn
from benchmarks.growth_stores import eventful_run, long_run, many_runs, many_supplies
from benchmarks.page import Figure, write
from benchmarks.store_rows import rows_of_a_run
from drivers.base.clock import SystemClock
from monitor.export.run_report import run_report
from monitor.export.run_text import run_text
from monitor.export.table_exports import export_csv
from monitor.model.run import RunFacts
from monitor.store.reader import open_store
from monitor.watch.vigil import Vigil
from tui.archive import ArchiveSource
from tui.bench import BenchSource
from tui.glyphs import BRAILLE
from tui.look import StoreSource
from tui.moment import Moment
from tui.page import draw_live, draw_review
from tui.view import Window

HERE = Path(__file__).parent
REPORT, PICTURE = HERE / "GROWTH.md", HERE / "growth.svg"
SIZE = (120, 40)
COUNT = (SIZE[0] - 7) * BRAILLE.across
SAMPLES = (1_000, 3_600, 10_000, 86_400, 604_800, 2_592_000)
"""At 1 Hz: up to an hour, a day, a week, 30 days."""
FULL_SAMPLES = (*SAMPLES, 10_000_000)
JUDGED = (1_000, 10_000, 100_000, 400_000)
EVENTS = (10, 100, 1_000, 10_000)
SUPPLIES = (1, 4, 16, 64)
RUNS = (10, 100, 1_000)
FLAT, WORK = 0.2, 1.2
"""What must not grow, and what may grow as the work and its sorting do; both with some noise."""
ENOUGH_S = 0.3
WEIGH = """
import resource, subprocess, sys
subprocess.run([sys.executable, *sys.argv[1:]], capture_output=True, check=True)
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
"""

Points = dict[str, list[tuple[float, float]]]


def least_s(what: Callable[[], object], rounds: int = 5) -> float:
    """The quickest of a few runs, seconds; once is enough where it takes long."""
    best = float("inf")
    began_s = time.perf_counter()
    for _ in range(rounds):
        start_s = time.perf_counter()
        what()
        best = min(best, time.perf_counter() - start_s)
        if time.perf_counter() - began_s > ENOUGH_S:
            break
    return best


def peak_mb(*words: str | Path) -> float:
    """The most memory that a command of ours has had, MB.

    A small process starts it: the kernel counts what a process was before it became another.
    """
    line = [sys.executable, "-c", WEIGH, "-m", "bathvigil", *map(str, words)]
    return int(subprocess.run(line, capture_output=True, check=True).stdout) / 1024.0


@contextmanager
def looking(path: Path) -> Iterator[StoreSource]:
    """A screen's eye on the first run."""
    source = StoreSource(path, 1)
    try:
        yield source
    finally:
        source.close()


def chart(path: Path, from_s: float, to_s: float) -> Callable[[], object]:
    """Opening the run anew, its chart looked up and the whole screen drawn."""

    def draw() -> None:
        with looking(path) as source:
            view = source.look(Window(from_s, to_s, COUNT))
            draw_review(Moment(view, to_s, "", BRAILLE, cursor_s=to_s), *SIZE)

    return draw


def tick_s(path: Path, now_s: float) -> float:
    """One round of the live screen between two charts: looked up and drawn."""
    with looking(path) as source:
        source.look(Window(max(now_s - 600.0, 0.0), now_s, COUNT))
        return least_s(lambda: draw_live(Moment(source.look(None), now_s, "", BRAILLE), *SIZE), 40)


def with_samples(folder: Path, sizes: Iterable[int]) -> list[Series]:
    """What a run of so many samples costs: to write, keep, look at, export, report."""
    points: Points = {}
    for rows in sizes:
        path, to, html = folder / f"{rows}.db", folder / "run.csv", folder / "run.html"
        end_s = float(rows)
        began_s = time.perf_counter()
        with long_run(path, rows):
            paused_s = time.perf_counter()
            _note(points, "tick", rows, tick_s(path, end_s))
            began_s += time.perf_counter() - paused_s
        _note(points, "write", rows, time.perf_counter() - began_s)
        _note(points, "disk", rows, path.stat().st_size / 1e6)
        _note(points, "chart", rows, least_s(chart(path, 0.0, end_s)))
        _note(points, "zoom", rows, least_s(chart(path, 0.37 * end_s, 0.37 * end_s + 600.0)))
        with open_store(path) as store:
            run = store.run(1)
            _note(points, "list", rows, least_s(run.summary))
            _note(points, "report", rows, least_s(partial(run_report, store, run)))
            _note(points, "export", rows, least_s(partial(export_csv, run, to), 2))
        export = peak_mb("export", "1", "--to", to, "--store", path)
        _note(points, "memory", rows, export)
        _note(points, "report memory", rows, peak_mb("report", "1", "--to", html, "--store", path))
        path.unlink()
        print(f"{rows:,} samples", flush=True)
    return [
        _series(points, "write", "writing and sealing", "samples", "s", WORK),
        _series(points, "disk", "disk", "samples", "MB", WORK),
        _series(points, "chart", "whole run opened and drawn", "samples", "s", FLAT),
        _series(points, "zoom", "ten minutes of it opened and drawn", "samples", "s", FLAT),
        _series(points, "tick", "live screen, one round", "samples", "s", FLAT),
        _series(points, "list", "its line in the list of runs", "samples", "s", FLAT),
        _series(points, "report", "report", "samples", "s", WORK),
        _series(points, "export", "export to CSV", "samples", "s", WORK),
        _series(points, "memory", "memory of `export`", "samples", "MB", FLAT),
        _series(points, "report memory", "memory of `report`", "samples", "MB", FLAT),
    ]


def judging() -> list[Series]:
    """Estimators and alarms over so many samples of one run."""
    points: Points = {}
    for rows in JUDGED:
        vigil = Vigil(RunFacts("bench-1", "scpi:/dev/ttyUSB0", 10.0, poll_s=1.0))
        ready = list(rows_of_a_run(rows, 1_000_000_000))
        began_s = time.process_time()
        for row in ready:
            vigil.update(row)
        _note(points, "judge", rows, time.process_time() - began_s)
    return [_series(points, "judge", "estimators and alarms", "samples", "s of processor", WORK)]


def with_events(folder: Path) -> list[Series]:
    """A day with so many marks and so many alarms."""
    points: Points = {}
    for events in EVENTS:
        path = folder / f"events-{events}.db"
        eventful_run(path, events)
        _note(points, "tick", events, tick_s(path, 86_400.0))
        _note(points, "chart", events, least_s(chart(path, 0.0, 86_400.0)))
        with open_store(path) as store:
            run = store.run(1)
            _note(points, "text", events, least_s(partial(run_text, run)))
            _note(
                points,
                "report",
                events,
                least_s(partial(run_report, store, run)),
            )
        path.unlink()
        print(f"{events:,} marks and alarms", flush=True)
    return [
        _series(points, "tick", "live screen, one round", "marks and alarms", "s", WORK),
        _series(points, "chart", "whole run opened and drawn", "marks and alarms", "s", WORK),
        _series(points, "text", "review as text", "marks and alarms", "s", WORK),
        _series(points, "report", "report", "marks and alarms", "s", WORK),
    ]


def with_supplies(folder: Path) -> list[Series]:
    """So many supplies at 10 Hz in one store."""
    points: Points = {}
    for supplies in SUPPLIES:
        path = folder / f"supplies-{supplies}.db"
        began_s = time.process_time()
        for _ in many_supplies(path, supplies):
            _note(points, "write", supplies, time.process_time() - began_s)
            source = BenchSource(path, SystemClock())
            source.look(None)
            _note(points, "look", supplies, least_s(partial(source.look, None)))
            source.close()
        path.unlink()
    return [
        _series(points, "write", "a minute of readings stored", "supplies", "s of processor", WORK),
        _series(points, "look", "overview, one round", "supplies", "s", WORK),
    ]


def with_runs(folder: Path) -> list[Series]:
    """So many runs in one store."""
    points: Points = {}
    for runs in RUNS:
        path = folder / f"runs-{runs}.db"
        many_runs(path, runs)
        source = ArchiveSource(path)
        began_s = time.perf_counter()
        list(islice(source.look(None), 40))
        _note(points, "first", runs, time.perf_counter() - began_s)
        _note(points, "again", runs, least_s(partial(source.look, None)))
        source.close()
        path.unlink()
    return [
        _series(points, "first", "list of runs, opened", "runs", "s", WORK),
        _series(points, "again", "list of runs, one round", "runs", "s", WORK),
    ]


def _note(points: Points, what: str, size: float, cost: float) -> None:
    points.setdefault(what, []).append((size, cost))


def _series(points: Points, key: str, what: str, against: str, unit: str, most: float) -> Series:
    # What must not grow goes up and down with how a length falls on the scales of the blocks.
    is_flat = most == FLAT
    counted = len(points[key]) if is_flat else 3
    return Series(what, against, unit, tuple(points[key]), most, counted, is_flat)


def main() -> int:
    """Measure everything and write the page and the picture; 1 where something grows too fast."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--full", action="store_true", help="10^7 samples too; minutes more")
    sizes = FULL_SAMPLES if parser.parse_args().full else SAMPLES
    with tempfile.TemporaryDirectory(prefix="bathvigil-growth-") as name:
        folder = Path(name)
        all_series = [
            *judging(),
            *with_supplies(folder),
            *with_runs(folder),
            *with_events(folder),
            *with_samples(folder, sizes),
        ]
    figures = [
        Figure(
            f"{series.what}, by {series.against}",
            f"exponent {series.exponent:.2f}: {series.ends}{_beyond(series)}",
            f"at most {series.most:g}",
            series.is_met,
        )
        for series in all_series
    ]
    PICTURE.write_text(drawn(all_series), encoding="utf-8")
    below = (
        f"At 1 Hz, {SAMPLES[1]:,} samples are an hour and {SAMPLES[-1]:,} are 30 days. {FLAT:g} "
        f"stands for what must not grow, {WORK:g} for what may grow as the work and its sorting "
        "do. For the latter the exponent is fitted to the three largest sizes. For the former to "
        "all: a chart reads between one and eight blocks a column, by how the run's length falls "
        "on their scales, and a few sizes would show one tooth of that saw as growth; there the "
        "largest size may besides not cost half as much again as the dearest of the others.\n\n"
        "![Cost against size](growth.svg)"
    )
    command = f"python -m benchmarks.growth{' --full' if sizes is FULL_SAMPLES else ''}"
    return write(REPORT, "Cost as the work grows", command, figures, below)


def _beyond(series: Series) -> str:
    """What 10^7 samples would cost by the exponent, where they were not tried."""
    size, cost = series.points[-1]
    if series.against != "samples" or size >= 1e7:
        return ""
    reckoned = cost * (1e7 / size) ** series.exponent
    return f"; {reckoned:.3g} {series.unit} at 10,000,000 by the exponent, not tried"


if __name__ == "__main__":
    sys.exit(main())
