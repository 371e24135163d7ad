"""How large runs are on the disk, and how quickly rows are written and sealed."""

import sqlite3
import time
from collections.abc import Sequence
from pathlib import Path

from benchmarks.store_rows import BATCH as BATCH_OF_A_RUN
from benchmarks.store_rows import begin, rows_of_a_run, write_run
from drivers.base.clock import SystemClock
from monitor.model.run import RunFacts
from monitor.model.sample import Gap, Sample
from monitor.recorder.scribe import ESTIMATE_NS
from monitor.store.batch import INSERT_SAMPLE
from monitor.store.mapping import Cell
from monitor.store.migration import statements
from monitor.store.schema import STEPS
from monitor.store.tables import gap_cells, sample_cells
from monitor.store.writer import Entry, StoreWriter
from monitor.watch.vigil import Vigil

BATCH = 2000
"""As the scribe writes a backlog."""
ROUND = 50_000
POLL_NS = 200_000_000


def bytes_a_sample(folder: Path, count: int, *, is_ended: bool) -> float:
    """Of a run of `count` rows; a store without one is taken off."""
    empty, path = folder / "empty.db", folder / f"{count}-{is_ended}.db"
    StoreWriter(empty).close()
    with StoreWriter(path) as writer:
        run = begin(writer, poll_s=POLL_NS / 1e9)
        write_run(writer, run, rows_of_a_run(count, POLL_NS))
        if is_ended:
            writer.end_run(run, None, "done")
    size = path.stat().st_size - empty.stat().st_size
    return size / count


def bytes_with_estimates(folder: Path, count: int, poll_s: float, *, is_ended: bool) -> float:
    """The same with what the recorder's own estimators say, stored as the scribe stores it."""
    empty, path = folder / "empty.db", folder / f"{count}-{poll_s}-{is_ended}-whole.db"
    StoreWriter(empty).close()
    facts = RunFacts("bench-1", "scpi:/dev/ttyUSB0", 10.0, bath_litres=9.0, poll_s=poll_s)
    vigil, last_ns = Vigil(facts), -ESTIMATE_NS
    with StoreWriter(path) as writer:
        run = writer.begin_run(facts, clock=SystemClock(), program="benchmark").run
        batch: list[Entry] = []
        for row in rows_of_a_run(count, round(poll_s * 1e9)):
            verdict = vigil.update(row)
            batch.append((run, row))
            if row.t_ns - last_ns >= ESTIMATE_NS or verdict.events:
                batch.append((run, verdict.estimate))
                last_ns = row.t_ns
            batch += [(run, event) for event in verdict.events]
            if len(batch) > BATCH_OF_A_RUN:
                writer.write(batch)
                batch = []
        writer.write(batch)
        if is_ended:
            writer.end_run(run, None, "done")
    size = path.stat().st_size - empty.stat().st_size
    return size / count


def rates(folder: Path, count: int) -> tuple[float, float]:
    """Rows a second into the store with its blocks, and by plain executemany, turn by turn."""
    plain = sqlite3.connect(folder / "plain.db", isolation_level=None)
    plain.execute("PRAGMA journal_mode = WAL")
    plain.execute("PRAGMA synchronous = FULL")
    for statement in statements(STEPS[0]):
        if statement.startswith(("CREATE TABLE samples", "-- ", "CREATE TABLE runs")):
            plain.execute(statement)
    ours_s = plain_s = 0.0
    with StoreWriter(folder / "ours.db") as writer:
        run = begin(writer)
        rows = rows_of_a_run(count, POLL_NS)
        for _ in range(count // ROUND):
            part = [next(rows) for _ in range(ROUND)]
            cells = [_cells(run, row) for row in part]
            began = time.perf_counter()
            for first in range(0, ROUND, BATCH):
                writer.write([(run, row) for row in part[first : first + BATCH]])
            ours_s += time.perf_counter() - began
            began = time.perf_counter()
            for first in range(0, ROUND, BATCH):
                plain.execute("BEGIN")
                plain.executemany(INSERT_SAMPLE, cells[first : first + BATCH])
                plain.execute("COMMIT")
            plain_s += time.perf_counter() - began
    plain.close()
    return count / ours_s, count / plain_s


def sealing_rate(path: Path) -> float:
    """Rows a second that are sealed when a long run ends all at once."""
    with StoreWriter(path) as writer:
        (row,) = writer.unfinished_runs("bench-1")
        before = _rows(path)
        began = time.perf_counter()
        writer.end_run(row.run, None, "done")
        seconds = time.perf_counter() - began
    return (before - _rows(path)) / seconds


def _rows(path: Path) -> int:
    connection = sqlite3.connect(path)
    try:
        count: int = connection.execute("SELECT count(*) FROM samples").fetchone()[0]
        return count
    finally:
        connection.close()


def _cells(run: int, row: Sample | Gap) -> Sequence[Cell]:
    return gap_cells(run, row) if isinstance(row, Gap) else sample_cells(run, row)
