"""One recorder per store: a kernel lock, held for the recorder's life, on a file beside the store.

The lock goes with the process, however it ends; the text in the file only says who holds it.
"""

import os
import sys
from pathlib import Path
from types import TracebackType

from monitor.errors import BathvigilError


class StoreTaken(BathvigilError):
    """Another recorder writes this store."""


def lock_path(store: Path) -> Path:
    """Where the lock of a store lies."""
    return store.with_name(store.name + ".recorder")


def try_lock(descriptor: int) -> bool:
    """Take the kernel lock of an open file, if nobody has it; True where it is ours now."""
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


def holder(store: Path) -> int | None:
    """The process that records into a store now; None where nobody does."""
    try:
        descriptor = os.open(lock_path(store), os.O_RDONLY)
    except OSError:
        return None
    try:
        if try_lock(descriptor):
            return None
        text = os.read(descriptor, 32).decode("ascii", "replace").strip()
        return int(text) if text.isdigit() else 0
    finally:
        os.close(descriptor)


class StoreLock:
    """The lock as a context.

    Raises
    ------
    StoreTaken
        On entering, naming the process that holds it.
    """

    def __init__(self, store: Path) -> None:
        self._store = store
        self._descriptor: int | None = None

    def __enter__(self) -> "StoreLock":
        path = lock_path(self._store)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        except OSError as failure:
            raise BathvigilError(
                f"cannot write in {path.parent}: {failure.strerror}; choose another --store"
            ) from failure
        if not try_lock(self._descriptor):
            pid = holder(self._store)
            os.close(self._descriptor)
            self._descriptor = None
            raise StoreTaken(
                f"another recorder (process {pid}) writes {self._store}: "
                "watch it with `bathvigil watch`, or give this one another --store"
            )
        os.ftruncate(self._descriptor, 0)
        os.write(self._descriptor, str(os.getpid()).encode("ascii"))
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._descriptor is not None:
            os.close(self._descriptor)
            self._descriptor = None
