"""Checks a store for damage, for `bathvigil check`."""

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from drivers.base.clock import Clock, SystemClock
from monitor.store.failures import damaged, store_errors
from monitor.store.opening import READER_TIMEOUT_S, open_existing
from monitor.store.sealed import what_is_unsound

LONGEST_LOOK_S = 10.0


@dataclass(frozen=True, slots=True)
class Soundness:
    """How much of a store was checked; all of that is sound.

    Parameters
    ----------
    runs
        All that the store holds.
    compared
        Runs, the newest first, all of whose rows are those that were recorded.
    """

    runs: int
    compared: int

    @property
    def is_whole(self) -> bool:
        """False where time ran out before all runs were compared."""
        return self.compared == self.runs


def check_store(
    path: Path, clock: Clock | None = None, within_s: float = LONGEST_LOOK_S
) -> Soundness:
    """Check a store, as far as the time allows; a recorder is not held up.

    First the file as SQLite's, then the digests of every run, then the rows behind them.

    Raises
    ------
    StoreError
        `NoSuchStore` where there is none yet or an older one, `NotAStore`, `StoreDamaged`,
        `StoreFromNewerVersion`.
    """
    clock = clock or SystemClock()
    connection = open_existing(path, "ro", READER_TIMEOUT_S)
    deadline_ns = clock.monotonic_ns() + round(within_s * 1e9)

    def is_late() -> bool:
        return clock.monotonic_ns() > deadline_ns

    try:
        with store_errors(path):
            rows = connection.execute("SELECT run FROM runs ORDER BY run DESC").fetchall()
            runs: list[int] = [run for (run,) in rows]
            verdict = _as_a_file(connection, is_late)
            if verdict != "ok":
                raise damaged(path, " ".join(verdict.split()))
            compared = 0
            for rows_too in (False, True):
                compared = 0
                for run in runs:
                    unsound = what_is_unsound(connection, run, rows_too=rows_too, is_late=is_late)
                    if unsound is not None:
                        raise damaged(path, unsound)
                    if rows_too and is_late():
                        break
                    compared += 1
    finally:
        connection.close()
    return Soundness(len(runs), compared)


def _as_a_file(connection: sqlite3.Connection, is_late: Callable[[], bool]) -> str:
    """SQLite's own verdict, "ok" where it took too long."""
    connection.set_progress_handler(is_late, 10_000)
    try:
        verdict: str = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    except sqlite3.OperationalError:
        if not is_late():
            raise
        return "ok"
    finally:
        connection.set_progress_handler(None, 0)
    return verdict
