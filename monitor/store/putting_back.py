"""Puts a store back whose file was deleted while it was open.

A deleted file lives on while a program has it open: unlink(2). So a slip of the hand costs neither
runs nor the ledger of the baths while the recorder goes on.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from monitor.store.failures import StoreUnreachable, store_errors


def copy_beside(connection: sqlite3.Connection, path: Path) -> Path:
    """Copy the whole of an open store into a new file in the folder of `path`; its place.

    Raises
    ------
    StoreError
        There is no room, or no folder any more. Nothing is left behind.
    """
    part = path.with_name(f"{path.name}.put-back")
    try:
        with store_errors(path), _unreachable_errors(path):
            part.unlink(missing_ok=True)
            copy = sqlite3.connect(part)
            try:
                connection.backup(copy)
            finally:
                copy.close()
    except BaseException:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        raise
    return part


def take_its_place(part: Path, path: Path) -> bool:
    """Let a copy become the store; False where something lies at its place: it then waits.

    The logs that lie beside it belong to the deleted file; SQLite would take them for the
    copy's own.

    Raises
    ------
    StoreUnreachable
        The folder cannot be written any more.
    """
    if path.exists():
        return False
    with _unreachable_errors(path):
        for tail in ("-wal", "-shm"):
            path.with_name(path.name + tail).unlink(missing_ok=True)
        part.rename(path)
    return True


@contextmanager
def _unreachable_errors(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as failure:
        raise StoreUnreachable(
            f"{path}: was deleted and cannot be put back ({failure.strerror}); "
            "make its folder again, with enough free space"
        ) from failure
