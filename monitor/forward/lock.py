"""One forwarder per store: a kernel lock on a file beside the store, gone with its process."""

import os
from pathlib import Path
from types import TracebackType

from monitor.base.errors import BathvigilError
from monitor.base.kernel_lock import try_lock


class ForwarderRuns(BathvigilError):
    """Another forwarder follows this store."""


def forwarder_lock_path(store: Path) -> Path:
    """Where the lock lies."""
    return store.with_name(store.name + ".forwarder")


def is_forwarded(store: Path) -> bool:
    """True while a forwarder follows the store."""
    try:
        descriptor = os.open(forwarder_lock_path(store), os.O_RDONLY)
    except OSError:
        return False
    try:
        return not try_lock(descriptor)
    finally:
        os.close(descriptor)


class ForwarderLock:
    """The lock as a context.

    Raises
    ------
    ForwarderRuns
        On entering, where another one runs.
    """

    def __init__(self, store: Path) -> None:
        self._store = store
        self._descriptor: int | None = None

    def __enter__(self) -> "ForwarderLock":
        path = forwarder_lock_path(self._store)
        try:
            descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        except OSError as failure:
            raise BathvigilError(
                f"cannot write in {path.parent}: {failure.strerror}; choose another --store"
            ) from failure
        if not try_lock(descriptor):
            os.close(descriptor)
            raise ForwarderRuns(f"another forwarder follows {self._store}; one is enough")
        self._descriptor = descriptor
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
