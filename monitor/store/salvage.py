"""Copies all that is sound of a damaged store into a new one; the damaged file is only read."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from monitor.base.errors import StoreDamaged, WrongUse
from monitor.store.chunk import digest_of
from monitor.store.failures import store_errors
from monitor.store.opening import READER_TIMEOUT_S, connect
from monitor.store.schema import APPLICATION_ID, STEPS
from monitor.store.sealed import digest_of_run, next_rows


@dataclass(frozen=True, slots=True)
class Salvaged:
    """What a salvage brought: runs that were copied, and sentences for what is lost."""

    runs: int
    lost: tuple[str, ...]


def salvage(store: Path, to: Path) -> Salvaged:
    """Copy what can be read and is sound into a new store.

    Each table is read from both ends up to where the file is damaged. Packed rows that are not
    those that were recorded are left out, and named.

    Raises
    ------
    StoreDamaged
        Not even the tables' names can be read.
    WrongUse
        There is no such file, or one at the new place already.
    """
    if not store.is_file():
        raise WrongUse(f"{store}: there is no such file; name it with --store")
    if to.exists():
        raise WrongUse(f"{to} is there already: name another file")
    with (
        store_errors(to),
        closing(connect(store, "ro", READER_TIMEOUT_S)) as source,
        closing(connect(to, "rwc", READER_TIMEOUT_S)) as target,
    ):
        source.text_factory = lambda cell: cell.decode("utf-8", "replace")
        try:
            triggers = _made(target)
            lost = [why for table in _tables(target) for why in _copy(source, target, table)]
            lost += _drop_unsound(target)
            for trigger in triggers:
                target.execute(trigger)
            target.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            target.execute(f"PRAGMA user_version = {len(STEPS)}")
            (runs,) = target.execute("SELECT count(*) FROM runs").fetchone()
        except BaseException:
            to.unlink(missing_ok=True)
            raise
    if runs == 0:
        to.unlink()
        raise StoreDamaged(f"{store}: no run in it can be read; keep it all the same")
    return Salvaged(runs, tuple(lost))


def _made(target: sqlite3.Connection) -> list[str]:
    """Make the tables; the triggers that keep rows as they are come at the end."""
    for step in STEPS:
        target.executescript(step)
    found = target.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
    for name, _ in found:
        target.execute(f"DROP TRIGGER {name}")
    target.execute("PRAGMA foreign_keys = OFF")
    return [sql for _, sql in found]


def _tables(target: sqlite3.Connection) -> list[str]:
    names = target.execute(
        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
    )
    return [name for (name,) in names.fetchall()]


def _copy(source: sqlite3.Connection, target: sqlite3.Connection, table: str) -> Iterator[str]:
    """Copy one table; what went wrong in words."""
    ours = _columns(target, table)
    try:
        theirs = set(_columns(source, table))
    except sqlite3.Error as error:
        yield f"{table}: cannot be read ({error})"
        return
    names = [name for name in ours if name in theirs]
    if not names:
        return
    cells, marks = ", ".join(names), ", ".join("?" * len(names))
    target.execute("BEGIN")
    failure = None
    for direction in ("", " DESC"):
        failure = None
        order = ", ".join(f"{key}{direction}" for key in _keys(target, table))
        query = f"SELECT {cells} FROM {table} NOT INDEXED ORDER BY {order}"
        try:
            for row in source.execute(query):
                with suppress(sqlite3.Error, OverflowError):
                    target.execute(f"INSERT OR IGNORE INTO {table} ({cells}) VALUES ({marks})", row)
        except sqlite3.Error as error:
            failure = error
        if failure is None:
            break
    target.execute("COMMIT")
    if failure is not None:
        yield f"{table}: some rows cannot be read ({failure})"


def _columns(connection: sqlite3.Connection, table: str) -> list[str]:
    return [row[1] for row in connection.execute(f"PRAGMA table_info({table})").fetchall()]


def _keys(target: sqlite3.Connection, table: str) -> list[str]:
    """The columns in whose order the rows lie in the file."""
    found = target.execute(f"PRAGMA table_info({table})").fetchall()
    keys = [row[1] for row in sorted(found, key=lambda row: int(row[5])) if row[5]]
    (sql,) = target.execute("SELECT sql FROM sqlite_schema WHERE name = ?", (table,)).fetchone()
    return keys if "WITHOUT ROWID" in sql else ["rowid"]


def _drop_unsound(target: sqlite3.Connection) -> Iterator[str]:
    """Leave out packed rows that are not those that were recorded, and seal the rest anew."""
    chunks = target.execute("SELECT run, first_seq, last_seq, rows, digest FROM chunks").fetchall()
    for run, first_seq, last_seq, count, digest in chunks:
        try:
            rows = next_rows(target, run, first_seq - 1)
            is_sound = len(rows) == count and digest_of(list(zip(*rows, strict=True))) == digest
        except (ValueError, TypeError, OverflowError, sqlite3.Error):
            is_sound = False
        if not is_sound:
            target.execute("DELETE FROM chunks WHERE run = ? AND first_seq = ?", (run, first_seq))
            yield f"run {run}: the rows {first_seq} to {last_seq} are not those that were recorded"
    for (run,) in target.execute("SELECT run FROM seals").fetchall():
        left = target.execute(
            "SELECT rows, digest FROM chunks WHERE run = ? ORDER BY first_seq", (run,)
        ).fetchall()
        sealed = (sum(rows for rows, _ in left), digest_of_run(digest for _, digest in left))
        target.execute("UPDATE seals SET rows = ?, digest = ? WHERE run = ?", (*sealed, run))
