"""Requests to the recorder, as rows of the store.

Only here does a screen write: one row in its own transaction; then it closes the file.
"""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from drivers.base.clock import Clock, SystemClock
from monitor.base.errors import NoSuchRun, StoreError
from monitor.model.request import RequestKind
from monitor.store.failures import store_errors
from monitor.store.opening import atomic, open_existing

TIMEOUT_S = 2.0
LOOK_ONLY = "BATHVIGIL_LOOK_ONLY"
"""Not empty in the environment of a process, such as a browser's screen, that may add nothing."""


class LookOnly(StoreError):
    """This process may only look."""


class RequestBox:
    """Leaves requests for the recorder of a store.

    Parameters
    ----------
    path
        The store.
    clock
        Dates the requests: the run's clock; the machine's where None.
    """

    def __init__(self, path: Path, clock: Clock | None = None) -> None:
        self._path = path
        self._clock = clock or SystemClock()

    def ask(self, run: int, kind: RequestKind, detail: str = "", by: str = "") -> int:
        """Leave a request; returns its number. `StoredRun.requests` has its outcome later.

        Raises
        ------
        NoSuchRun
            The store does not hold the run.
        StoreError
            The run has ended, or the store cannot be written.
        """
        with adding(self._path) as connection:
            if has_ended(connection, self._path, run):
                raise StoreError(f"{self._path}: run {run} has ended; it takes no more requests")
            return insert_request(connection, run, self._clock.utc_ns(), kind, detail, by)

    def add_mark_text(self, run: int, number: int, text: str) -> None:
        """Add a text to a mark, also after the run; the mark itself stays.

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
    """One short transaction that adds rows beside the recorder.

    Raises
    ------
    StoreError
        The store cannot be opened or written, or this process may only look; nothing was added.
    """
    if os.environ.get(LOOK_ONLY):
        raise LookOnly("this screen only looks; start it with --may-act to do more from a browser")
    with (
        closing(open_existing(path, "rw", TIMEOUT_S)) as connection,
        store_errors(path),
        atomic(connection),
    ):
        yield connection


def has_ended(connection: sqlite3.Connection, path: Path, run: int) -> bool:
    """Whether a run is over.

    Raises
    ------
    NoSuchRun
        The store does not hold it.
    """
    row = connection.execute("SELECT ended_utc_ns FROM runs WHERE run = ?", (run,)).fetchone()
    if row is None:
        raise NoSuchRun(f"{path}: holds no run {run}; see `bathvigil runs`")
    return row[0] is not None


def insert_request(
    connection: sqlite3.Connection, run: int, utc_ns: int, kind: RequestKind, detail: str, by: str
) -> int:
    """Insert a request inside a transaction; its number."""
    number = connection.execute(
        "INSERT INTO requests (run, utc_ns, kind, detail, by) VALUES (?, ?, ?, ?, ?)",
        (run, utc_ns, kind.value, detail, by),
    ).lastrowid
    assert number is not None
    return number
