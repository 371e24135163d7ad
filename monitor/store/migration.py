"""Brings an older store up to this version, and keeps a copy of the older file.

Also sets a damaged file aside; it is never deleted.
"""

import sqlite3
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path

from monitor.store.opening import atomic, version_of
from monitor.store.schema import APPLICATION_ID


def bring_up_to_date(
    connection: sqlite3.Connection, path: Path, steps: Sequence[str]
) -> Path | None:
    """Apply the steps that a file lacks, all in one transaction.

    Returns
    -------
    Path or None
        Where the copy of an older file lies; None where the file was new or of this version.
    """
    version = version_of(connection, path, len(steps))
    if version == len(steps):
        return None
    kept = _keep_copy(connection, path, version) if version else None
    with atomic(connection):
        # Another process may have done it while this one waited for the lock.
        for number in range(version_of(connection, path, len(steps)), len(steps)):
            for statement in statements(steps[number]):
                connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(steps)}")
    return kept


def statements(step: str) -> Iterator[str]:
    """The single statements of a step, triggers whole.

    Examples
    --------
    >>> list(statements("CREATE TABLE a (b); CREATE TABLE c (d);"))
    ['CREATE TABLE a (b);', 'CREATE TABLE c (d);']
    """
    statement = ""
    for piece in step.split(";")[:-1]:
        statement += piece + ";"
        if sqlite3.complete_statement(statement):
            yield statement.strip()
            statement = ""


def set_aside(path: Path, utc_ns: int) -> Path:
    """Rename a damaged store, with what belongs to it, out of the way; its new place."""
    moment = datetime.fromtimestamp(utc_ns // 1_000_000_000, UTC)
    aside = _unused(path.with_name(f"{path.stem}.damaged-{moment:%Y%m%dT%H%M%SZ}{path.suffix}"))
    for tail in ("-wal", "-shm"):
        companion = path.with_name(path.name + tail)
        if companion.exists():
            companion.rename(aside.with_name(aside.name + tail))
    path.rename(aside)
    return aside


def _keep_copy(connection: sqlite3.Connection, path: Path, version: int) -> Path:
    kept = _unused(path.with_name(f"{path.stem}.version-{version}{path.suffix}"))
    part = kept.with_name(kept.name + ".part")
    target = sqlite3.connect(part)
    try:
        connection.backup(target)
    finally:
        target.close()
    return part.rename(kept)


def _unused(path: Path) -> Path:
    number, free = 1, path
    while free.exists():
        number += 1
        free = path.with_name(f"{path.stem}-{number}{path.suffix}")
    return free
