"""One recorder per store and supply: kernel locks, held for the recorder's life.

A lock goes with the process, however it ends; the text in its file only says who holds it. A serial
port is locked by who opens it; a supply on the network takes callers from many programs, so that
this machine's recorders keep a lock for each.
"""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from getpass import getuser
from pathlib import Path
from types import TracebackType
from urllib.parse import quote

from drivers.address import Address
from monitor.base.errors import BathvigilError
from monitor.base.kernel_lock import try_lock


class StoreTaken(BathvigilError):
    """Another recorder writes this store."""


class SupplyTaken(BathvigilError):
    """Another recorder asks this supply."""


def lock_path(store: Path) -> Path:
    """Where the lock of a store lies."""
    return store.with_name(store.name + ".recorder")


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


@contextmanager
def supply_lock(address: Address, store: Path) -> Iterator[None]:
    """Hold a network supply for this recorder, while the context lasts; a serial port needs none.

    Raises
    ------
    SupplyTaken
        On entering, naming the process and the store of the recorder that asks it.
    """
    path = _supply_lock_path(address)
    if path is None:
        yield
        return
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    except OSError:
        # A machine that gives us no place for it is no reason to watch nothing.
        yield
        return
    try:
        if not try_lock(descriptor):
            pid, _, other = os.read(descriptor, 4096).decode("utf-8", "replace").partition(" ")
            raise SupplyTaken(
                f"another recorder (process {pid}) asks {address.text} already: watch it with "
                f"`bathvigil watch --store {other}`, or end it"
            )
        os.ftruncate(descriptor, 0)
        os.write(descriptor, f"{os.getpid()} {store.absolute()}".encode())
        yield
    finally:
        os.close(descriptor)


def _supply_lock_path(address: Address) -> Path | None:
    if address.host is None:
        return None
    # Units behind one gateway are supplies of their own.
    unit = address.options.get("unit", "")
    name = quote(f"{address.host}:{address.port}/{unit}", safe="")
    return Path(tempfile.gettempdir()) / f"bathvigil-{getuser()}" / f"{name}.recorder"
