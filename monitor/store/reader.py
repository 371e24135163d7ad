"""Opens a store for reading: for screens, reports, exports and notebooks.

Nothing here imports numpy; `StoredRun.samples` does when it is called.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from monitor.base.errors import NoSuchRun, StoreDamaged
from monitor.model.run import RunRow
from monitor.store.columns import Column
from monitor.store.failures import damaged, store_errors
from monitor.store.opening import LONGEST_VALUE, READER_TIMEOUT_S, open_existing, wal_path
from monitor.store.stored_run import StoredRun
from monitor.store.tables import RUNS

__all__ = ["Column", "Store", "StoredRun", "open_store"]


class Store:
    """A store of runs, open for reading; made by `open_store`. Serves one thread at a time."""

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._connection = connection

    def __enter__(self) -> "Store":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Give the file back."""
        self._connection.close()

    @property
    def stands_alone(self) -> bool:
        """True where the one file holds everything; False while a log beside it holds the newest.

        Only a store that stands alone may be copied as a file.
        """
        try:
            return wal_path(self.path).stat().st_size == 0
        except OSError:
            return True

    def runs(self, supply: str | None = None) -> list[RunRow]:
        """The runs, of one supply or of all, in the order in which they began."""
        with store_errors(self.path):
            rows = self._connection.execute(
                RUNS.select("WHERE coalesce(supply = ?, TRUE) ORDER BY run"), (supply,)
            )
            return [RUNS.value(row) for row in rows.fetchall()]

    def sound_runs(self, supply: str | None = None) -> Iterator[StoredRun]:
        """The same, those that are damaged left out: one hides no other; see `damage`."""
        for row in self.runs(supply):
            with suppress(StoreDamaged):
                yield self.run(row.run)

    def damage(self) -> list[str]:
        """What is wrong with each damaged run."""
        found = []
        for row in self.runs():
            try:
                self.run(row.run)
            except StoreDamaged as failure:
                found.append(str(failure))
        return found

    def run(self, run: int) -> StoredRun:
        """One run.

        Raises
        ------
        NoSuchRun
            The store does not hold it; the text says what it holds.
        StoreDamaged
            The digests of its sealed rows are not those stored at its end.
        """
        with store_errors(self.path):
            numbers = self._connection.execute(
                "SELECT count(*), min(run), max(run), sum(run = ?) FROM runs", (run,)
            )
            count, first, last, is_there = numbers.fetchone()
        if is_there:
            stored = StoredRun(self._connection, self.path, run)
            unsound = stored.what_is_unsound(rows_too=False)
            if unsound is not None:
                raise damaged(self.path, unsound)
            return stored
        holds = "none yet"
        if count == 1:
            holds = f"run {first} alone"
        elif count:
            holds = f"{count} runs, {first} to {last}"
        raise NoSuchRun(f"{self.path}: holds no run {run}; it holds {holds}: see `bathvigil runs`")


def open_store(path: Path | str) -> Store:
    """Open a store for reading; a recorder that writes it is not disturbed.

    The file is not trusted: no extensions are loaded, its schema must be ours, and the size of a
    value is bounded.

    Raises
    ------
    StoreError
        `NoSuchStore`, `NotAStore`, `StoreDamaged`, `StoreFromNewerVersion`, or another failure.
    """
    path = Path(path)
    connection = open_existing(path, "ro", READER_TIMEOUT_S)
    connection.execute("PRAGMA query_only = ON")
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, LONGEST_VALUE)
    return Store(path, connection)
