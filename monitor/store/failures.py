"""SQLite's complaints in, our errors out: each says which file, what is wrong, and the cure."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from drivers.base.inert import inert
from monitor.base.errors import StoreDamaged, StoreError


class NoSuchStore(StoreError):
    """There is no store at that place, or nothing has been recorded into it yet."""


class NotAStore(StoreError):
    """The file is something else than a run store."""


class StoreFull(StoreError):
    """The disk has no room left; the same batch can be written once it has."""


class StoreBusy(StoreError):
    """Another program holds the file locked; the same batch can be written later."""


class StoreReadOnly(StoreError):
    """The file or its disk may not be written."""


class StoreUnreachable(StoreError):
    """The file cannot be opened, or its disk fails."""


class StoreGone(StoreError):
    """The open file was deleted, moved or replaced: what is written now would be lost."""


def clear_error(path: Path, error: sqlite3.Error) -> StoreError | None:
    """What a failure of SQLite means to the user; None where it is a bug of ours.

    Names of result codes: https://www.sqlite.org/rescode.html
    """
    name = getattr(error, "sqlite_errorname", None)
    if not isinstance(name, str):
        # Python's own words (3.11 to 3.13) for a text whose bytes are none.
        return damaged(path, str(error)) if "decode to UTF-8" in str(error) else None
    if name == "SQLITE_FULL":
        return StoreFull(f"{path}: its disk is full; make room on it")
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return StoreBusy(f"{path}: another program holds it locked; close that program")
    if name == "SQLITE_READONLY_DBMOVED":
        return gone(path)
    if name.startswith(("SQLITE_READONLY", "SQLITE_PERM", "SQLITE_AUTH")):
        return StoreReadOnly(
            f"{path}: may not be written; check the permissions of the file and its folder, "
            "or name another file with --store"
        )
    if name.startswith("SQLITE_CANTOPEN"):
        return StoreUnreachable(
            f"{path}: cannot be opened; check that its folder is there and may be used, "
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
    """The file is ours or looks so, but is not sound."""
    return StoreDamaged(
        f"{path}: damaged ({inert(what)}); keep a copy of it, and record into another file "
        "with --store"
    )


def gone(path: Path) -> StoreGone:
    """The file is not where it was opened."""
    return StoreGone(
        f"{path}: was deleted, moved or replaced while it was being recorded into; it is put back "
        "where its place is free: move away what lies there"
    )


@contextmanager
def told_clearly(path: Path) -> Iterator[None]:
    """Let SQLite's failures inside leave as `StoreError`; bugs of ours leave as they are."""
    try:
        yield
    except sqlite3.Error as error:
        clear = clear_error(path, error)
        if clear is None:
            raise
        raise clear from error
    except UnicodeDecodeError as error:
        raise damaged(path, f"a text that is none: {error.reason}") from error
