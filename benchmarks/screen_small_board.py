"""A recorder and its live screen on a tenth of a processor, as a small board may have to spare.

The kernel holds them to it: a control group with a quota of 10 ms in each 100 ms. Linux, root.
"""

import os
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from benchmarks.page import Figure
from benchmarks.screen_faults import POLL_S, Bench
from benchmarks.screen_terminal import drain, on_terminal, wait_for
from monitor.model.sample import Gap
from monitor.store.reader import open_store

QUOTA = 0.1
PERIOD_US = 100_000
SETTLE_S = 5.0
WATCH_S = 60.0
SCREENS_SHARE = 0.25
GROUP_1, GROUP_2 = Path("/sys/fs/cgroup/cpu"), Path("/sys/fs/cgroup")


def small_board() -> list[Figure]:
    """The screen's part of the quota, and the polls beside it; one empty row where it cannot be."""
    try:
        with _group() as procs, tempfile.TemporaryDirectory() as folder, Bench(folder) as bench:
            return _watched(bench, procs)
    except PermissionError:
        what = "recorder and screen on a tenth of a processor"
        return [Figure(what, "not measured: needs root and a control group")]


def _watched(bench: Bench, procs: Path) -> list[Figure]:
    with on_terminal(bench.screen) as (screen, master):
        wait_for(master, b"of the limit")
        for pid in (bench.recorder.pid, screen.pid):
            procs.write_text(str(pid), encoding="ascii")
        drain(master, SETTLE_S)
        first = bench.samples()
        before = cpu_s(screen.pid), cpu_s(bench.recorder.pid), time.monotonic()
        drain(master, WATCH_S)
        after = cpu_s(screen.pid), cpu_s(bench.recorder.pid), time.monotonic()
        with open_store(bench.store) as store:
            rows = list(store.run(1).rows(first))
    seconds = after[2] - before[2]
    screens, recorders = ((after[place] - before[place]) / seconds / QUOTA for place in (0, 1))
    missed = sum(isinstance(row, Gap) for row in rows)
    late_s = max(
        abs(row.t_ns - rows[0].t_ns - (row.seq - rows[0].seq) * POLL_S * 1e9) for row in rows
    )
    beside = f"the recorder {recorders:.0%}; in {seconds:.0f} s"
    return [
        Figure(
            "a tenth of a processor for both: the screen's part of it",
            f"{screens:.0%}",
            f"at most {SCREENS_SHARE:.0%}",
            screens <= SCREENS_SHARE,
            beside,
        ),
        Figure(
            "a tenth of a processor for both: polls on time",
            f"{missed} missed of {len(rows)}, {1e-6 * late_s:.0f} ms off the grid at most",
            f"none missed, within one of {POLL_S:g} s",
            missed == 0 and late_s < POLL_S * 1e9,
        ),
    ]


@contextmanager
def _group() -> Iterator[Path]:
    """Where a process writes its number to be held to the quota; version 1 or 2 of the kernel's."""
    is_first = (GROUP_1 / "cpu.cfs_quota_us").exists()
    place = (GROUP_1 if is_first else GROUP_2) / f"bathvigil-{os.getpid()}"
    quota_us = round(QUOTA * PERIOD_US)
    try:
        place.mkdir()
    except OSError as error:
        raise PermissionError(str(error)) from error
    try:
        if is_first:
            (place / "cpu.cfs_period_us").write_text(str(PERIOD_US), encoding="ascii")
            (place / "cpu.cfs_quota_us").write_text(str(quota_us), encoding="ascii")
        elif not (place / "cpu.max").exists():
            raise PermissionError("no processor controller here")
        else:
            (place / "cpu.max").write_text(f"{quota_us} {PERIOD_US}", encoding="ascii")
        yield place / "cgroup.procs"
    finally:
        _give_up(place)


def _give_up(place: Path) -> None:
    for pid in (place / "cgroup.procs").read_text(encoding="ascii").split():
        (place.parent / "cgroup.procs").write_text(pid, encoding="ascii")
    place.rmdir()


def cpu_s(pid: int) -> float:
    """Processor time of a process so far."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
