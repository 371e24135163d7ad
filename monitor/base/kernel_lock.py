"""Kernel locks on files: only one process at a time holds the lock of a file.

Such a lock goes with the process that holds it, however that ends: nothing is left behind by a
kill or a power cut.
"""

import errno
import os
import struct
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from threading import Event

from monitor.base.errors import BathvigilError
from monitor.base.own_file import open_own

MOST_BYTES = 4096
"""Of what a holder wrote that are read."""
TRIES = 3
TRY_AGAIN_S = 0.02


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


_LOCKED_BYTE = 1 << 61
"""Far behind what SQLite locks or writes: https://www.sqlite.org/lockingv3.html, its bytes lie at
1 GB."""


def try_lock_contents(descriptor: int) -> bool:
    """Take the lock of an open file by the file itself, whatever its name; True where it is ours.

    An open file description lock (fcntl(2)) lies on the device's inode and is apart from the locks
    that SQLite takes in the same file. Where the system has none, nothing is locked.
    """
    if sys.platform == "win32":
        return True
    import fcntl

    if not hasattr(fcntl, "F_OFD_SETLK"):
        return True
    wanted = struct.pack("hhqqi0q", fcntl.F_WRLCK, os.SEEK_SET, _LOCKED_BYTE, 1, 0)
    try:
        fcntl.fcntl(descriptor, fcntl.F_OFD_SETLK, wanted)
    except OSError as failure:
        if failure.errno not in (errno.EAGAIN, errno.EACCES):
            return True
        # A lock to read is no recorder's: anybody who may read the file can take one.
        in_the_way = fcntl.fcntl(descriptor, fcntl.F_OFD_GETLK, wanted)
        (kind,) = struct.unpack_from("h", in_the_way)
        return bool(kind != fcntl.F_WRLCK)
    return True


def text_of_holder(path: Path) -> str | None:
    """What the holder of the lock wrote into the file; None where no process holds it."""
    try:
        descriptor = open_own(path, os.O_RDONLY)
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
    stays: bool = True,
) -> Iterator[None]:
    """Hold the lock of a file while the context lasts; the file is made where there is none.

    Parameters
    ----------
    text
        Put into the file, for whoever finds it locked.
    refusal
        What to raise where another process has the lock, given that process's text.
    stays
        False deletes the file at the end.

    Raises
    ------
    CannotLock
        On entering.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        descriptor, is_ours = _open_and_lock(path)
    except OSError as failure:
        raise CannotLock(
            f"cannot write {path}: {failure.strerror}; choose another --store, in a folder that "
            "only you can write"
        ) from failure
    try:
        if not is_ours:
            raise refusal(os.read(descriptor, MOST_BYTES).decode("utf-8", "replace").strip())
        os.ftruncate(descriptor, 0)
        os.write(descriptor, text.encode())
        yield
    finally:
        if is_ours and not stays:
            with suppress(OSError):
                path.unlink()
        os.close(descriptor)


def _open_and_lock(path: Path) -> tuple[int, bool]:
    """The open file, and whether its lock is ours.

    Nobody else may read it: who can open a file can lock it, and would keep us out.
    """
    for last in (*[False] * (TRIES - 1), True):
        descriptor = open_own(path, os.O_RDWR | os.O_CREAT)
        is_ours = False
        try:
            is_ours = try_lock(descriptor)
            # Its last holder may have deleted it meanwhile: then the name leads elsewhere.
            is_ours = is_ours and os.path.samestat(os.fstat(descriptor), path.lstat())
            if is_ours and sys.platform != "win32":
                os.fchmod(descriptor, 0o600)
        except BaseException:
            os.close(descriptor)
            raise
        if is_ours or last:
            break
        os.close(descriptor)
        # Somebody may only have looked who holds it.
        Event().wait(TRY_AGAIN_S)
    return descriptor, is_ours
