"""What a back-fill does to the polling beside it, both on one core: late polls, and how late."""

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from benchmarks.store_rows import begin, rows_of_a_run, write_run
from monitor.store.writer import StoreWriter

BACKLOG_ROWS = 3 * 86_400
"""Three days at 1 Hz."""
LOAD_S = 15
ROOT = Path(__file__).parents[1]


def polling_beside(folder: Path, config: Path, store: Path) -> dict[str, dict[str, float]]:
    """64 supplies at 10 Hz, alone and beside a forwarder that sends three days.

    Parameters
    ----------
    config
        A bench.toml whose store is `store`; its server is on the other cores.

    Returns
    -------
    dict
        "alone" and "beside", each as `benchmarks.store_load` prints it.
    """
    with StoreWriter(store) as writer:
        run = begin(writer)
        write_run(writer, run, rows_of_a_run(BACKLOG_ROWS, 1_000_000_000))
        writer.end_run(run, None, "done")
    with one_core():
        alone = load(folder / "alone.db")
        line = [sys.executable, "-m", "bathvigil", "forward", "--config", str(config)]
        forwarder = subprocess.Popen(line, cwd=ROOT)
        try:
            beside = load(folder / "beside.db")
            assert forwarder.poll() is None
        finally:
            forwarder.terminate()
            forwarder.wait()
    return {"alone": alone, "beside": beside}


def load(path: Path) -> dict[str, float]:
    """What the polling cost and how late it came."""
    done = subprocess.run(
        [sys.executable, "-m", "benchmarks.store_load", str(path), str(LOAD_S)],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )
    lateness: dict[str, float] = json.loads(done.stdout)
    return lateness


@contextmanager
def one_core() -> Iterator[None]:
    """Keep this process, and all that it starts, to the first of its cores."""
    before = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(before)})
    try:
        yield
    finally:
        os.sched_setaffinity(0, before)
