"""Measures the run store against its goals, into benchmarks/STORE.md; see `make bench-store`."""

import json
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from benchmarks.page import Figure, write
from benchmarks.store_day import largest_log_bytes
from benchmarks.store_read import COLUMNS, csv_seconds, drawn, median_s
from benchmarks.store_rows import SPIKE_AMPS, begin, rows_of_a_run, write_run
from benchmarks.store_size import bytes_a_sample, bytes_with_estimates, rates, sealing_rate
from monitor.store.backup import back_up
from monitor.store.reader import open_store
from monitor.store.writer import StoreWriter

REPORT = Path(__file__).with_name("STORE.md")
MONTH_ROWS = 30 * 86_400
LOAD_S = 20
SLOW_SYNC = ["-f", "--seccomp-bpf", "-e", "trace=fdatasync,fsync"]
SLOW_SYNC += ["-e", "inject=fdatasync,fsync:delay_exit=20000", "-o", "/dev/null"]


def load(folder: Path, before: list[str], name: str) -> list[Figure]:
    """64 supplies at 10 Hz."""
    command = [*before, sys.executable, "-m", "benchmarks.store_load", str(folder / "load.db")]
    done = subprocess.run(
        [*command, str(LOAD_S)], capture_output=True, text=True, check=True, cwd=REPORT.parents[1]
    )
    (folder / "load.db").unlink()
    result = json.loads(done.stdout)
    share, oldest = result["core_share"], result["oldest_at_commit_s"]
    worst_ms = 1e3 * result["worst_lateness_s"]
    return [
        Figure(
            f"64 supplies at 10 Hz{name}: the store's share of a core",
            f"{share:.1%}",
            "< 5 %",
            share < 0.05,
        ),
        Figure(
            "  oldest sample when its batch is on the disk", f"{oldest:.2f} s", "< 1 s", oldest < 1
        ),
        Figure(
            "  late polls; latest poll",
            f"{result['late_polls']} of {result['samples'] // 64:,}; {worst_ms:.1f} ms",
            "0",
            result["late_polls"] == 0,
        ),
    ]


def slow_load(folder: Path) -> list[Figure]:
    """The same with every sync 20 ms slower, as on a memory card."""
    name = ", 20 ms added to every sync"
    if shutil.which("strace") is None:
        return [Figure(f"64 supplies at 10 Hz{name}", "not measured: needs strace")]
    return load(folder, ["strace", *SLOW_SYNC], name)


def writing(folder: Path) -> list[Figure]:
    """A million rows, and how small they become."""
    ours, plain = rates(folder, 1_000_000)
    ratio = ours / plain
    sealed = sealing_rate(folder / "ours.db")
    live = max(bytes_a_sample(folder, count, is_ended=False) for count in (8000, 100_000))
    ended = max(bytes_a_sample(folder, count, is_ended=True) for count in (6000, 100_000))
    return [
        Figure(
            "a million samples with blocks, against plain executemany",
            f"{ours:,.0f} against {plain:,.0f} rows/s: {ratio:.2f}",
            ">= 0.5",
            ratio >= 0.5,
        ),
        Figure("  sealing, when nothing else presses", f"{sealed:,.0f} rows/s"),
        Figure(
            "bytes a sample, blocks and indexes included: live", f"{live:.1f}", "<= 75", live <= 75
        ),
        Figure("  finished: a run of 20 minutes, or of 5 h", f"{ended:.1f}", "<= 25", ended <= 25),
        *with_estimates(folder),
    ]


def with_estimates(folder: Path) -> list[Figure]:
    """The same with all that the recorder reckons from the readings."""
    ended = {
        poll_s: max(
            bytes_with_estimates(folder, count, poll_s, is_ended=True) for count in (6000, 100_000)
        )
        for poll_s in (0.1, 0.2, 1.0)
    }
    live = bytes_with_estimates(folder, 8000, 0.2, is_ended=False)
    rates = ", ".join(f"{value:.1f} at {1 / poll_s:g} Hz" for poll_s, value in ended.items())
    most = max(ended.values())
    return [
        Figure("  finished, with the estimates of every second", rates, "<= 25", most <= 25),
        Figure("  live, with them, before older rows are sealed, at 5 Hz", f"{live:.1f}"),
    ]


def a_day(folder: Path) -> list[Figure]:
    """The write-ahead log of a day of recording while somebody reads."""
    most = largest_log_bytes(folder / "day.db") / 1e6
    return [
        Figure(
            "a day at 1 Hz, committed every second, a reviewer with the run open: largest log",
            f"{most:.1f} MB",
            "< 16 MB",
            most < 16.0,
        )
    ]


def reading(folder: Path) -> list[Figure]:
    """A month at 1 Hz, drawn and exported."""
    path = folder / "month.db"
    with StoreWriter(path) as writer:
        run = begin(writer)
        write_run(writer, run, rows_of_a_run(MONTH_ROWS, 1_000_000_000))
        writer.end_run(run, None, "done")
    chart = drawn(path, SPIKE_AMPS)
    ratio = chart.all_rows_s / chart.first_s
    to = folder / "month.csv"
    done = subprocess.run(
        [sys.executable, "-m", "benchmarks.store_read", str(path), str(to)],
        capture_output=True,
        text=True,
        check=True,
        cwd=REPORT.parents[1],
    )
    export = json.loads(done.stdout)
    ready_s = csv_seconds(folder, to)
    seen = ("there" if chart.sees_spike else "LOST", "a hole" if chart.sees_gap else "CLOSED")
    slower = export["seconds"] / ready_s
    with open_store(path) as store:
        verify_s = median_s(lambda: store.run(1).what_is_unsound(), 1)
    began = time.perf_counter()
    back_up(path, folder / "copy.db")
    copy_s = time.perf_counter() - began
    size = path.stat().st_size / MONTH_ROWS
    return [
        Figure(
            f"a month at 1 Hz, {MONTH_ROWS:,} rows {size:.1f} bytes each: {COLUMNS:,} columns",
            f"{chart.first_s:.3f} s",
            "< 0.1 s",
            chart.first_s < 0.1,
        ),
        Figure(
            "  against reading all rows and thinning them",
            f"{chart.all_rows_s:.2f} s: {ratio:.0f} times faster",
            ">= 20",
            ratio >= 20,
        ),
        Figure(
            f"  slowest zoom step of all scales ({chart.slowest_span})",
            f"{chart.slowest_zoom_s:.3f} s",
            "< 0.05 s",
            chart.slowest_zoom_s < 0.05,
        ),
        Figure(
            "  its spike of one sample in the whole chart; its gap of one poll, zoomed in",
            "; ".join(seen),
            "there; a hole",
            chart.sees_spike and chart.sees_gap,
        ),
        Figure(
            "  export to CSV against Python's csv module on ready-made rows",
            f"{export['seconds']:.1f} s against {ready_s:.1f} s: {slower:.2f} times",
            "<= 2",
            slower <= 2,
        ),
        Figure(
            "  its peak memory", f"{export['peak_mb']:.0f} MB", "< 120 MB", export["peak_mb"] < 120
        ),
        Figure("  reading all through against its digests", f"{verify_s:.1f} s"),
        Figure("  `backup`, read through", f"{copy_s:.1f} s"),
    ]


def main() -> int:
    """Measure everything and write the page; 1 where a goal is missed."""
    with tempfile.TemporaryDirectory(dir=os.environ.get("BENCH_FOLDER")) as name:
        folder = Path(name)
        lines = [*load(folder, [], ""), *slow_load(folder), *writing(folder)]
        lines += [*a_day(folder), *reading(folder)]
    below = (
        f"SQLite {sqlite3.sqlite_version}. Ratios compare what ran in turns in the same run; syncs "
        "are full ones (`synchronous = FULL`)."
    )
    return write(REPORT, "The run store", "make bench-store", lines, below)


if __name__ == "__main__":
    sys.exit(main())
