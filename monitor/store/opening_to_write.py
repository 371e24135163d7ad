"""Opens a store for its writer: makes it, checks it, brings it up to date."""

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from drivers.base.clock import Clock
from monitor.base.errors import StoreDamaged
from monitor.store.failures import StoreUnreachable, damaged, store_errors
from monitor.store.migration import bring_up_to_date, set_aside
from monitor.store.opening import (
    READER_TIMEOUT_S,
    check_schema,
    connect,
    header_is_ours,
    not_sqlite,
    version_of,
)
from monitor.store.schema import STEPS, VERSION

BUSY_TIMEOUT_S = 1.0
CHECK_WITHIN_S = 10.0
WAL_BYTES_KEPT = 16 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Opened:
    """A store that is ready for its writer.

    Parameters
    ----------
    set_aside
        Where a damaged file that lay at its place is now; None where there was none.
    older_copy
        Where the copy of an older file lies that was brought up to date; None where it was not.
    """

    connection: sqlite3.Connection
    set_aside: Path | None
    older_copy: Path | None


def open_to_write(
    path: Path, clock: Clock, busy_timeout_s: float, check_within_s: float, steps: Sequence[str]
) -> Opened:
    """Open or make a store; a damaged one is set aside and a new one begun.

    Raises
    ------
    StoreError
        The file is not ours, comes from a newer version, or cannot be opened and written.
    """
    try:
        connection, copy = _open(path, clock, busy_timeout_s, check_within_s, steps)
        return Opened(connection, None, copy)
    except StoreDamaged:
        aside = set_aside(path, clock.utc_ns())
    connection, copy = _open(path, clock, busy_timeout_s, check_within_s, steps)
    return Opened(connection, aside, copy)


def is_older(path: Path) -> bool:
    """Whether a file is a store of an earlier version.

    Raises
    ------
    StoreError
        It is no store, or cannot be opened.
    """
    with store_errors(path), closing(connect(path, "ro", READER_TIMEOUT_S)) as connection:
        return 0 < version_of(connection, path) < VERSION


def update_store(path: Path, clock: Clock) -> Path | None:
    """Bring an older store up to date, for a command that only wants to read it.

    Nobody may be recording into it. Nothing is set aside.

    Returns
    -------
    Path or None
        The copy of the older file; None where somebody else updated it in the meantime.

    Raises
    ------
    StoreError
        As `open_to_write`, and `StoreDamaged`; the file stays as it was.
    """
    connection, copy = _open(path, clock, BUSY_TIMEOUT_S, CHECK_WITHIN_S, STEPS)
    with store_errors(path):
        connection.close()
    return copy


def _open(
    path: Path, clock: Clock, busy_timeout_s: float, check_within_s: float, steps: Sequence[str]
) -> tuple[sqlite3.Connection, Path | None]:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreUnreachable(
            f"{path}: its folder cannot be made ({error.strerror}); name another file with --store"
        ) from error
    with store_errors(path):
        connection = connect(path, "rwc", busy_timeout_s)
        try:
            _check(connection, path, clock, check_within_s, steps)
            _set_up(connection, path)
            return connection, bring_up_to_date(connection, path, steps)
        except BaseException:
            connection.close()
            raise


def _check(
    connection: sqlite3.Connection,
    path: Path,
    clock: Clock,
    within_s: float,
    steps: Sequence[str],
) -> None:
    try:
        version = version_of(connection, path, len(steps))
    except sqlite3.DatabaseError as error:
        # Another program's damaged file stays where it is: --store may name it by mistake.
        name = getattr(error, "sqlite_errorname", "")
        if name in {"SQLITE_NOTADB", "SQLITE_CORRUPT"} and not header_is_ours(path):
            raise not_sqlite(path) from error
        raise
    deadline_ns = clock.monotonic_ns() + round(within_s * 1e9)
    connection.set_progress_handler(lambda: clock.monotonic_ns() > deadline_ns, 10_000)
    try:
        verdict = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    except sqlite3.OperationalError as error:
        # Recording into a large file does not wait until it has been read through.
        if getattr(error, "sqlite_errorname", "") != "SQLITE_INTERRUPT":
            raise
        verdict = "ok"
    finally:
        connection.set_progress_handler(None, 0)
    if verdict != "ok":
        raise damaged(path, " ".join(verdict.split()))
    check_schema(connection, path, tuple(steps[:version]))


def _set_up(connection: sqlite3.Connection, path: Path) -> None:
    # Before the first table is made; a store that has tables keeps its way.
    connection.execute("PRAGMA auto_vacuum = INCREMENTAL")
    mode = connection.execute("PRAGMA journal_mode = WAL").fetchone()[0]
    if mode != "wal":
        raise StoreUnreachable(
            f"{path}: its disk cannot share a file between programs (a network drive?); "
            "name a file on this machine's own disk with --store"
        )
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute(f"PRAGMA journal_size_limit = {WAL_BYTES_KEPT}")
    connection.execute("PRAGMA foreign_keys = ON")
