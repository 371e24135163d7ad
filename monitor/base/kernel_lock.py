"""Kernel locks on files: only one process at a time holds the lock of a file.

Such a lock goes with the process that holds it, however that ends: nothing is left behind by a
kill or a power cut.
"""

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from monitor.base.errors import BathvigilError

MOST_BYTES = 4096
"""Of what a holder wrote that are read."""


class CannotLock(BathvigilError):
    """The file of a lock cannot be made or written."""


def try_lock(descriptor: int) -> bool:
    """Take the kernel lock of an open file if it is free; True where it is ours now."""
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def text_of_holder(path: Path) -> str | None:
    """What the holder of the lock wrote into the file; None where no process holds it."""
    try:
        descriptor = os.open(path, os.O_RDONLY)
    except OSError:
        return None
    try:
        if try_lock(descriptor):
            return None
        return os.read(descriptor, MOST_BYTES).decode("utf-8", "replace").strip()
    finally:
        os.close(descriptor)


@contextmanager
def held_lock(
    path: Path,
    text: str,
    refusal: Callable[[str], BathvigilError],
    mode: int = 0o644,
    folder_mode: int = 0o777,
) -> Iterator[None]:
    """Hold the lock of a file while the context lasts; the file is made where there is none.

    Parameters
    ----------
    text
        Put into the file, for whoever finds it locked.
    refusal
        What to raise where another process has the lock, given that process's text.

    Raises
    ------
    CannotLock
        On entering.
    """
    try:
        path.parent.mkdir(mode=folder_mode, parents=True, exist_ok=True)
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT, mode)
    except OSError as failure:
        raise CannotLock(
            f"cannot write in {path.parent}: {failure.strerror}; choose another --store"
        ) from failure
    try:
        if not try_lock(descriptor):
            raise refusal(os.read(descriptor, MOST_BYTES).decode("utf-8", "replace").strip())
        os.ftruncate(descriptor, 0)
        os.write(descriptor, text.encode())
        yield
    finally:
        os.close(descriptor)
