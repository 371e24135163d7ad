"""An open store whose file was deleted in, a whole copy of it at its old place out.

What is deleted lives on for as long as somebody holds it open: unlink(2). So a slip of the hand
costs neither runs nor the ledger of the baths, as long as the recorder goes on.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from monitor.store.failures import StoreUnreachable, told_clearly


def copy_beside(connection: sqlite3.Connection, path: Path) -> Path:
    """Copy the whole of an open store into a new file in the folder of `path`; its place.

    Raises
    ------
    StoreError
        There is no room, or no folder any more. Nothing is left behind.
    """
    part = path.with_name(f"{path.name}.put-back")
    try:
        with told_clearly(path), _told_as_unreachable(path):
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

    The logs that lie beside the place belong to the file that was deleted, and would be taken for
    the copy's own.

    Raises
    ------
    StoreUnreachable
        The folder cannot be written any more.
    """
    if path.exists():
        return False
    with _told_as_unreachable(path):
        for tail in ("-wal", "-shm"):
            path.with_name(path.name + tail).unlink(missing_ok=True)
        part.rename(path)
    return True


@contextmanager
def _told_as_unreachable(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as failure:
        raise StoreUnreachable(
            f"{path}: was deleted and cannot be put back ({failure.strerror}); "
            "make its folder again, with room in it"
        ) from failure
