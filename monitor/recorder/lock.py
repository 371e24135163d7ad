"""One recorder per store and supply: kernel locks, held for the recorder's life.

The text in a lock's file only says who holds it. A serial port is locked by who opens it; a supply
on the network takes callers from many programs, so that this machine's recorders keep a lock for
each.
"""

import os
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from getpass import getuser
from pathlib import Path
from urllib.parse import quote

from drivers.address import Address
from monitor.base.errors import BathvigilError
from monitor.base.kernel_lock import CannotLock, held_lock, text_of_holder


class StoreTaken(BathvigilError):
    """Another recorder writes this store."""


class SupplyTaken(BathvigilError):
    """Another recorder asks this supply."""


def lock_path(store: Path) -> Path:
    """Where the lock of a store lies."""
    return store.with_name(store.name + ".recorder")


def holder(store: Path) -> int | None:
    """The process that records into a store now; None where there is none."""
    text = text_of_holder(lock_path(store))
    if text is None:
        return None
    return int(text) if text.isdigit() else 0


@contextmanager
def store_lock(store: Path) -> Iterator[None]:
    """Hold a store for this recorder while the context lasts.

    Raises
    ------
    StoreTaken
        On entering, naming the process that holds it.
    """

    def taken(pid: str) -> StoreTaken:
        return StoreTaken(
            f"another recorder (process {pid}) writes {store}: "
            "watch it with `bathvigil watch`, or give this one another --store"
        )

    with held_lock(lock_path(store), str(os.getpid()), taken):
        yield


@contextmanager
def supply_lock(address: Address, store: Path) -> Iterator[None]:
    """Hold a network supply for this recorder while the context lasts; a serial port needs none.

    Raises
    ------
    SupplyTaken
        On entering, naming the process and the store of the recorder that asks it.
    """

    def taken(text: str) -> SupplyTaken:
        pid, _, its_store = text.partition(" ")
        return SupplyTaken(
            f"another recorder (process {pid}) asks {address.text} already: watch it with "
            f"`bathvigil watch --store {its_store}`, or end it"
        )

    path = _supply_lock_path(address)
    with ExitStack() as held:
        if path is not None:
            text = f"{os.getpid()} {store.absolute()}"
            # A machine that gives us no place for it is no reason to watch nothing.
            with suppress(CannotLock):
                held.enter_context(held_lock(path, text, taken, 0o600, 0o700))
        yield


def _supply_lock_path(address: Address) -> Path | None:
    if address.host is None:
        return None
    # Units behind one gateway are supplies of their own.
    unit = address.options.get("unit", "")
    name = quote(f"{address.host}:{address.port}/{unit}", safe="")
    return Path(tempfile.gettempdir()) / f"bathvigil-{getuser()}" / f"{name}.recorder"
