"""Packs the older rows of a run into chunks of a few bytes a row, and removes the rows.

Rows are removed only after their chunk was unpacked and compared bit by bit, in the same
transaction, and a trigger lets no other row go. Their estimates are thinned and packed with them.
"""

import sqlite3
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

from monitor.store.chunk import pack_samples
from monitor.store.estimate_rows import seal_estimates
from monitor.store.failures import damaged
from monitor.store.mapping import places
from monitor.store.sealed import digest_of_run, sealed_to
from monitor.store.tables import CHUNK_CELLS, SAMPLE_COLUMNS

CHUNK_ROWS = 4096
KEPT_ROWS = CHUNK_ROWS
"""Newest rows of an unfinished run that stay as they are: for screens, and for late rows."""
BUSY_ENTRIES = 1000
"""A batch of so many entries is part of a backlog, which is written first."""
CHUNKS_AT_END = 64
"""Chunks sealed when a run ends; later batches seal the rest."""

_HEAD = "run, first_seq, last_seq, rows, low_t_ns, high_t_ns, digest"
_INSERT = (
    f"INSERT INTO chunks ({_HEAD}, {CHUNK_CELLS}) VALUES ({places(_HEAD)}, {places(CHUNK_CELLS)})"
)
_OLDEST = f"SELECT {SAMPLE_COLUMNS} FROM samples WHERE run = ? AND seq > ? ORDER BY seq LIMIT ?"

Transaction = Callable[[], AbstractContextManager[None]]


class Sealing:
    """What a writer seals, and when.

    Parameters
    ----------
    connection, path, transaction
        The writer's.
    """

    def __init__(
        self, connection: sqlite3.Connection, path: Path, transaction: Transaction
    ) -> None:
        self._connection = connection
        self._path = path
        self._transaction = transaction
        self._refused: set[int] = set()
        ended = connection.execute(
            "SELECT run FROM runs LEFT JOIN seals USING (run) "
            "WHERE ended_utc_ns IS NOT NULL AND digest IS NULL ORDER BY run"
        )
        self._waiting = [row[0] for row in ended.fetchall()]

    def seal_chunk(self, run: int) -> int:
        """Seal the oldest rows of a run; returns their number, 0 when none is left.

        Raises
        ------
        StoreDamaged
            A row that bathvigil did not write; this run is not sealed any further.
        """
        with self._transaction():
            rows = self._connection.execute(
                _OLDEST, (run, sealed_to(self._connection, run), CHUNK_ROWS)
            ).fetchall()
            if not rows:
                return 0
            first, last = rows[0][0], rows[-1][0]
            try:
                cells, digest = pack_samples(rows)
                seal_estimates(self._connection, run, last)
            except (ValueError, TypeError, OverflowError) as error:
                self._refused.add(run)
                raise damaged(self._path, f"run {run}: {error}") from error
            times = [row[1] for row in rows]
            head = (run, first, last, len(rows), min(times), max(times), digest)
            self._connection.execute(_INSERT, (*head, *cells))
            gone = self._connection.execute(
                "DELETE FROM samples WHERE run = ? AND seq BETWEEN ? AND ?", (run, first, last)
            ).rowcount
            if gone != len(rows):
                self._refused.add(run)
                raise damaged(self._path, f"run {run}: rows between its rows")
        return len(rows)

    def end_run(self, run: int) -> None:
        """Seal an ended run, as much of it as may be done at once."""
        if run not in self._waiting:
            self._waiting.append(run)
        for _ in range(CHUNKS_AT_END):
            if run in self._waiting:
                self._seal_waiting(run)

    def after_batch(self, entries: int, runs: dict[int, int]) -> int | None:
        """Seal one chunk if one is due and no backlog waits.

        Parameters
        ----------
        runs
            How many of the newest rows of each run of the batch are not sealed.

        Returns
        -------
        int or None
            The run of which rows were sealed.
        """
        if entries >= BUSY_ENTRIES:
            return None
        for run, open_rows in runs.items():
            if open_rows >= CHUNK_ROWS + KEPT_ROWS and run not in self._refused:
                self.seal_chunk(run)
                return run
        if self._waiting:
            self._seal_waiting(self._waiting[0])
        return None

    def _seal_waiting(self, run: int) -> None:
        """One chunk of an ended run, or after the last one its seal."""
        if run in self._refused:
            self._waiting.remove(run)
            return
        if self.seal_chunk(run):
            return
        with self._transaction():
            chunks = self._connection.execute(
                "SELECT rows, digest FROM chunks WHERE run = ? ORDER BY first_seq", (run,)
            ).fetchall()
            self._connection.execute(
                "INSERT INTO seals (run, rows, digest) VALUES (?, ?, ?) ON CONFLICT DO NOTHING",
                (
                    run,
                    sum(rows for rows, _ in chunks),
                    digest_of_run(digest for _, digest in chunks),
                ),
            )
        self._waiting.remove(run)
