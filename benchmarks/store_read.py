"""How quickly a month's run is drawn, at every zoom, and exported."""

import csv
import json
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from monitor.export.table_exports import export_csv
from monitor.store.reader import StoredRun, open_store

COLUMNS = 2000
TURNS = 5


@dataclass(frozen=True)
class Drawn:
    """Seconds for a month's chart, for the same from all rows, and for the slowest zoom step."""

    first_s: float
    all_rows_s: float
    slowest_zoom_s: float
    slowest_span: str
    sees_spike: bool
    sees_gap: bool


def median_s(what: Callable[[], object], turns: int = TURNS) -> float:
    """Median seconds of some turns."""
    took = []
    for _ in range(turns):
        began = time.perf_counter()
        what()
        took.append(time.perf_counter() - began)
    return statistics.median(took)


def thinned(run: StoredRun) -> object:
    """A chart the plain way: every row, then lowest and highest of each column, in numpy."""
    import numpy as np

    series = run.samples()
    number = np.minimum(series.t_ns * COLUMNS // (series.t_ns[-1] + 1), COLUMNS - 1)
    starts = np.searchsorted(number, np.arange(COLUMNS))
    return np.fmin.reduceat(series.amps, starts), np.fmax.reduceat(series.amps, starts)


def drawn(path: Path, spike_amps: float) -> Drawn:
    """Measure all charts of the first run."""

    def first() -> None:
        with open_store(path) as store:
            store.run(1).columns(COLUMNS)

    first_s = median_s(first)
    with open_store(path) as store:
        run = store.run(1)
        whole_s = run.summary().seconds
        all_rows_s = median_s(lambda: thinned(run), 1)
        chart = run.columns(COLUMNS)
        slowest_s, slowest = 0.0, ""
        span_s = whole_s
        while span_s > 60:
            for share in (0.1, 0.37, 0.8):
                from_s = min(whole_s * share, whole_s - span_s)
                took = median_s(partial(run.columns, COLUMNS, from_s, from_s + span_s))
                if took > slowest_s:
                    slowest_s, slowest = took, f"{span_s:,.0f} s from {from_s:,.0f} s on"
            span_s /= 2
        row = whole_s / 2
        near = run.columns(COLUMNS, row, row + 200)
    return Drawn(
        first_s,
        all_rows_s,
        slowest_s,
        slowest,
        max(column.amps_high or 0.0 for column in chart) == spike_amps,
        any(column.is_gap and not column.samples for column in near),
    )


def csv_seconds(folder: Path, to: Path) -> float:
    """Seconds that Python's csv module takes to write the same rows, made ready beforehand."""
    took = 0.0
    with to.open(newline="") as source, (folder / "ready.csv").open("w", newline="") as file:
        lines = csv.reader(source)
        table = csv.writer(file, lineterminator="\r\n")
        table.writerow(next(lines))
        rows: list[tuple[object, ...]] = []
        for cells in lines:
            values = [float(cell) if cell else None for cell in cells[3:6]]
            rows.append((*cells[:3], *values, *(cell or None for cell in cells[6:])))
            if len(rows) == 50_000:
                began = time.perf_counter()
                table.writerows(rows)
                took += time.perf_counter() - began
                rows = []
        began = time.perf_counter()
        table.writerows(rows)
        return took + time.perf_counter() - began


def main(path: Path, to: Path) -> None:
    """Export the first run and print what it took; a process of its own, for its memory."""
    with open_store(path) as store:
        began = time.perf_counter()
        rows = export_csv(store.run(1), to)
        took = time.perf_counter() - began
    # Not getrusage's: that begins with the size of the process that started this one.
    (line,) = (
        line_read
        for line_read in Path("/proc/self/status").read_text().splitlines()
        if "VmHWM" in line_read
    )
    peak_mb = int(line.split()[1]) / 1024
    print(json.dumps({"rows": rows, "seconds": took, "peak_mb": peak_mb}))


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
