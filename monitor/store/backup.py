"""Copies a store into one file, also while it is recorded into, and reads the copy through."""

import os
import secrets
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from monitor.base.errors import BathvigilError, StoreDamaged
from monitor.store.failures import damaged, store_error
from monitor.store.opening import READER_TIMEOUT_S, open_existing
from monitor.store.sealed import what_is_unsound

PAGES_AT_ONCE = 2048
"""Pages copied between two reports of progress."""

Tell = Callable[[int, int], None]
"""Called with the pages that are still to be copied, and all of them."""


class CopyNotMade(BathvigilError):
    """The copy could not be written; what lay at its place before is untouched."""


def back_up(store: Path, to: Path, tell: Tell = lambda _left, _all: None) -> list[str]:
    """Copy a store while it may be recorded into; every committed row up to now is in the copy.

    The copy needs no file beside it. It is written under another name, read through, and only then
    put in its place. A run whose rows are not those that were recorded keeps no other from being
    copied.

    Returns
    -------
    list
        What is wrong with such runs.

    Raises
    ------
    StoreError
        The store cannot be read, or is damaged.
    CopyNotMade
        There is no such folder, no room or no permission.
    """
    place = Path(os.path.realpath(to))
    if place.exists() and (not place.is_file() or place == Path(os.path.realpath(store))):
        raise CopyNotMade(f"{to}: is a folder or the store itself; name another file")
    part = place.with_name(f".{place.name}.{secrets.token_hex(4)}.part")
    try:
        with closing(open_existing(store, "ro", READER_TIMEOUT_S)) as source:
            _copy(source, store, to, part, tell)
        unsound = _read_through(part)
        if unsound and place.exists():
            # An older copy may be sound still.
            raise damaged(store, "; ".join(unsound))
        part.replace(place)
    except OSError as error:
        raise CopyNotMade(f"{to}: cannot be written ({error.strerror})") from error
    finally:
        for left in (part, part.with_name(part.name + "-journal")):
            left.unlink(missing_ok=True)
    return unsound


def _copy(source: sqlite3.Connection, store: Path, to: Path, part: Path, tell: Tell) -> None:
    part.open("x").close()
    try:
        with closing(sqlite3.connect(part)) as target:
            # Held over all steps, so that a store that is written meanwhile is copied as it is now.
            source.execute("BEGIN")
            source.execute("SELECT count(*) FROM runs").fetchone()
            source.backup(
                target, pages=PAGES_AT_ONCE, progress=lambda _, left, every: tell(left, every)
            )
            # Without a log beside it: one file.
            target.execute("PRAGMA journal_mode = DELETE")
    except sqlite3.Error as error:
        clear = store_error(store, error)
        if isinstance(clear, StoreDamaged):
            raise clear from error
        raise CopyNotMade(
            f"{to}: cannot be written ({error}); free some space or name another file"
        ) from error


def _read_through(part: Path) -> list[str]:
    with closing(sqlite3.connect(part)) as copy:
        verdict: str = copy.execute("PRAGMA integrity_check(1)").fetchone()[0]
        if verdict != "ok":
            raise damaged(part, verdict)
        runs = copy.execute("SELECT run FROM runs ORDER BY run").fetchall()
        looks = [what_is_unsound(copy, run, rows_too=True) for (run,) in runs]
    descriptor = os.open(part, os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
    return [unsound for unsound in looks if unsound is not None]
