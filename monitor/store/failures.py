"""What can go wrong with a store, as errors that name the file, the fault and the cure."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from drivers.base.inert import inert
from monitor.base.errors import StoreDamaged, StoreError


class NoSuchStore(StoreError):
    """There is no store at that place, or nothing has been recorded into it yet."""


class NotAStore(StoreError):
    """The file is not a run store."""


class StoreFull(StoreError):
    """The disk has no room left; the same batch can be written once it has."""


class StoreBusy(StoreError):
    """Another program holds the file locked; the same batch can be written later."""


class StoreReadOnly(StoreError):
    """The file or its disk may not be written."""


class StoreUnreachable(StoreError):
    """The file cannot be opened, or its disk fails."""


class StoreGone(StoreError):
    """The open file was deleted, moved or replaced; what is written to it now would be lost."""


def store_error(path: Path, error: sqlite3.Error) -> StoreError | None:
    """An error of SQLite as a `StoreError`; None where it is a bug of ours.

    Names of result codes: https://www.sqlite.org/rescode.html
    """
    name = getattr(error, "sqlite_errorname", None)
    if not isinstance(name, str):
        # Python's own message (3.11 to 3.13) for a text that is not UTF-8.
        return damaged(path, str(error)) if "decode to UTF-8" in str(error) else None
    if name == "SQLITE_FULL":
        return StoreFull(f"{path}: its disk is full; free some space on it")
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return StoreBusy(f"{path}: another program has locked it; close that program")
    if name == "SQLITE_READONLY_DBMOVED":
        return gone(path)
    if name.startswith(("SQLITE_READONLY", "SQLITE_PERM", "SQLITE_AUTH")):
        return StoreReadOnly(
            f"{path}: is read-only; check the permissions of the file and its folder, "
            "or name another file with --store"
        )
    if name.startswith("SQLITE_CANTOPEN"):
        return StoreUnreachable(
            f"{path}: cannot be opened; check that its folder exists and its permissions, "
            "or name another file with --store"
        )
    if name.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB", "SQLITE_TOOBIG")):
        return damaged(path, str(error))
    if name == "SQLITE_ERROR" and "unsupported file format" in str(error):
        # The schema format of the header: https://www.sqlite.org/fileformat2.html
        return damaged(path, str(error))
    if name.startswith(("SQLITE_IOERR", "SQLITE_PROTOCOL", "SQLITE_NOLFS")):
        return StoreUnreachable(f"{path}: its disk fails ({error}); check the disk")
    return None


def damaged(path: Path, what: str) -> StoreDamaged:
    """The file is a store, or looks like one, and is damaged."""
    return StoreDamaged(
        f"{path}: damaged ({inert(what)}); keep a copy of it, and record into another file "
        "with --store"
    )


def gone(path: Path) -> StoreGone:
    """The file is no longer where it was opened."""
    return StoreGone(
        f"{path}: was deleted, moved or replaced during recording; it is put back once nothing "
        "else has its name: move that file away"
    )


@contextmanager
def store_errors(path: Path) -> Iterator[None]:
    """Raise SQLite's errors inside as `StoreError`; bugs of ours stay as they are."""
    try:
        yield
    except sqlite3.Error as error:
        clear = store_error(path, error)
        if clear is None:
            raise
        raise clear from error
    except UnicodeDecodeError as error:
        raise damaged(path, f"a text that is not UTF-8: {error.reason}") from error
