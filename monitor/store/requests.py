"""What the operator asks for in, rows for the recorder to take up out.

The one part of a screen that writes: one row, in a transaction of its own, and the file is closed.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from drivers.base.clock import Clock, SystemClock
from monitor.base.errors import NoSuchRun, StoreError
from monitor.model.request import RequestKind
from monitor.store.failures import told_clearly
from monitor.store.opening import open_existing

TIMEOUT_S = 2.0


class RequestBox:
    """Where requests to the recorder of a store are dropped.

    Parameters
    ----------
    path
        The store.
    clock
        Stamps what is dropped; the run's clock, the machine's where None.
    """

    def __init__(self, path: Path, clock: Clock | None = None) -> None:
        self._path = path
        self._clock = clock or SystemClock()

    def ask(self, run: int, kind: RequestKind, detail: str = "", by: str = "") -> int:
        """Drop a request; its number, under which `StoredRun.requests` tells the outcome.

        Raises
        ------
        NoSuchRun
            The store does not hold the run.
        StoreError
            The run has ended, so that nobody takes requests up, or the store cannot be written.
        """
        with adding(self._path) as connection:
            found = connection.execute(
                "SELECT ended_utc_ns FROM runs WHERE run = ?", (run,)
            ).fetchone()
            if found is None:
                raise NoSuchRun(f"{self._path}: holds no run {run}; see `bathvigil runs`")
            if found[0] is not None:
                raise StoreError(f"{self._path}: run {run} has ended; nobody takes requests up")
            number = connection.execute(
                "INSERT INTO requests (run, utc_ns, kind, detail, by) VALUES (?, ?, ?, ?, ?)",
                (run, self._clock.utc_ns(), kind.value, detail, by),
            ).lastrowid
            assert number is not None
            return number

    def add_mark_text(self, run: int, number: int, text: str) -> None:
        """Add a text to a mark, at any time, also after the run; the mark itself stays.

        Raises
        ------
        StoreError
            The run has no such mark, or the store cannot be written.
        """
        with adding(self._path) as connection:
            is_there = connection.execute(
                "SELECT count(*) FROM marks WHERE run = ? AND number = ?", (run, number)
            ).fetchone()[0]
            if not is_there:
                raise StoreError(f"{self._path}: run {run} has no mark {number}")
            connection.execute(
                "INSERT INTO mark_texts (run, number, utc_ns, text) VALUES (?, ?, ?, ?)",
                (run, number, self._clock.utc_ns(), text),
            )


@contextmanager
def adding(path: Path) -> Iterator[sqlite3.Connection]:
    """One short transaction of whoever adds rows beside the recorder.

    Raises
    ------
    StoreError
        The store cannot be opened or written; nothing was added.
    """
    connection = open_existing(path, "rw", TIMEOUT_S)
    try:
        with told_clearly(path):
            connection.execute("BEGIN IMMEDIATE")
            yield connection
            connection.execute("COMMIT")
    finally:
        # Closing rolls back what was not committed.
        connection.close()
