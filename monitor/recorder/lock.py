"""One recorder per store and supply: kernel locks, held for the recorder's life.

1. The text in a lock's file only says who holds it; the lock is the kernel's.
2. A store is locked by its name, links followed, and by the file itself: a hard link is no other
   store.
3. A serial port is locked by who opens it. A supply on the network takes callers from many
   programs, so that this user's recorders keep a lock for each address that its name leads to.
"""

import os
import threading
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from ipaddress import IPv6Address, ip_address
from pathlib import Path
from socket import AI_NUMERICHOST, SOCK_STREAM, getaddrinfo
from urllib.parse import quote

from drivers.address import Address
from monitor.base.errors import BathvigilError
from monitor.base.kernel_lock import CannotLock, held_lock, text_of_holder, try_lock_contents
from monitor.base.own_file import own_folders

RESOLVE_WITHIN_S = 3.0
"""A name that takes longer is locked as it is written."""
EVERY_LOOPBACK = "loopback"


class StoreTaken(BathvigilError):
    """Another recorder writes this store."""


class SupplyTaken(BathvigilError):
    """Another recorder asks this supply."""


def lock_path(store: Path) -> Path:
    """Where the lock of a store lies."""
    place = Path(os.path.realpath(store))
    return place.with_name(place.name + ".recorder")


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

    with held_lock(lock_path(store), str(os.getpid()), taken), _contents_lock(store):
        yield


@contextmanager
def _contents_lock(store: Path) -> Iterator[None]:
    """Hold the store's file itself; made where there is none, and gone again if nothing came.

    Its descriptor is closed after the store's own: SQLite's locks go with the first one closed.
    """
    place = Path(os.path.realpath(store))
    if place.exists() and not place.is_file():
        # What opens it says so.
        yield
        return
    is_new = not place.exists()
    try:
        descriptor = os.open(place, os.O_RDWR | os.O_CREAT, 0o644)
    except OSError:
        # It cannot be written: what opens it says so.
        yield
        return
    try:
        if not try_lock_contents(descriptor):
            raise StoreTaken(
                f"another recorder writes the file {store} under another name: end that one, or "
                "give this one another --store"
            )
        yield
    finally:
        with suppress(OSError):
            if is_new and os.fstat(descriptor).st_size == 0:
                place.unlink()
        os.close(descriptor)


@contextmanager
def supply_locks(addresses: Sequence[Address], store: Path) -> Iterator[None]:
    """Hold the network supplies for this recorder while the context lasts; a port needs no lock.

    Raises
    ------
    SupplyTaken
        On entering, naming the process and the store of the recorder that asks one of them.
    """

    text = f"{os.getpid()} {store.absolute()}"
    with ExitStack() as held:
        folders = own_folders()
        for key, address in _keys(addresses).items():

            def taken(text: str, address: Address = address) -> SupplyTaken:
                pid, _, its_store = text.partition(" ")
                return SupplyTaken(
                    f"another recorder (process {pid}) asks {address.text} already: watch it with "
                    f"`bathvigil watch --store {its_store}`, or end it"
                )

            for folder in folders:
                # A machine that gives us no place for it is no reason to watch nothing.
                with suppress(CannotLock):
                    path = folder / f"{quote(key, safe='')}.recorder"
                    held.enter_context(held_lock(path, text, taken, stays=False))
        yield


def _keys(addresses: Sequence[Address]) -> dict[str, Address]:
    """What is locked: each address that a supply's name leads to, with its port and unit.

    Raises
    ------
    SupplyTaken
        Where two of them lead to one supply.
    """
    keys: dict[str, Address] = {}
    for address in addresses:
        if address.path is not None and not address.is_serial:
            keys[f"{address.driver}:{address.path}"] = address
        if address.host is None or address.port is None:
            continue
        for place in _places(address.host, address.port):
            other = keys.setdefault(f"{place}:{address.port}/{unit_of(address)}", address)
            if other.text != address.text:
                raise SupplyTaken(f"{other.text} and {address.text} are one supply: name it once")
    return keys


def _places(host: str, port: int) -> set[str]:
    """The addresses that a host's name leads to now, all of this machine's own as one."""
    places: set[str] = set()

    def look_up() -> None:
        with suppress(OSError, UnicodeError):
            places.update(str(place[4][0]) for place in getaddrinfo(host, port, type=SOCK_STREAM))

    # In a thread: a name server that does not answer must not keep us from watching.
    thread = threading.Thread(target=look_up, name="look-up", daemon=True)
    thread.start()
    thread.join(RESOLVE_WITHIN_S)
    return {_canonical(place) for place in list(places)} or {host.lower()}


def unit_of(address: Address) -> str:
    """The unit behind a gateway, a supply of its own; none given means unit 1."""
    unit = address.options.get("unit", "1")
    return str(int(unit)) if unit.isdecimal() else unit


def plain_place(host: str) -> str:
    """One text for all spellings of a host, as far as no name server must be asked."""
    try:
        return _canonical(str(getaddrinfo(host, None, flags=AI_NUMERICHOST)[0][4][0]))
    except (OSError, UnicodeError):
        return EVERY_LOOPBACK if host.lower() == "localhost" else host.lower()


def _canonical(place: str) -> str:
    try:
        address = ip_address(place.partition("%")[0])
    except ValueError:
        return place
    if isinstance(address, IPv6Address) and address.ipv4_mapped is not None:
        address = address.ipv4_mapped
    return EVERY_LOOPBACK if address.is_loopback or address.is_unspecified else str(address)
