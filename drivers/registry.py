"""Finds the driver that an address names, ours or another package's.

A driver is an entry point of group `bathvigil.drivers`: its name is what an address begins with,
its object an `OpensDriver`.
"""

from importlib.metadata import EntryPoint, entry_points
from typing import cast

from drivers.base.nearest import nearest_hint
from drivers.driver import Driver, DriverSetUp, OpensDriver
from drivers.errors import BadAddress
from drivers.options import description_name

GROUP = "bathvigil.drivers"
TEXT_KINDS = ("scpi", "lines")


def driver_names() -> tuple[str, ...]:
    """The names of all drivers that are installed.

    Examples
    --------
    >>> "scpi" in driver_names()
    True
    """
    return tuple(sorted({entry.name for entry in entry_points(group=GROUP)}))


def find_opener(name: str) -> OpensDriver:
    """The opener of the driver called `name`.

    Raises
    ------
    BadAddress
        Where there is none, where two packages bring one of that name, or where it cannot be
        loaded.
    """
    entries = tuple(entry_points(group=GROUP, name=name))
    if not entries:
        raise BadAddress(f"there is no driver {name!r}; {nearest_hint(name, driver_names())}")
    if len({entry.value for entry in entries}) > 1:
        packages = " and ".join(sorted(_package(entry) for entry in entries))
        raise BadAddress(f"driver {name!r} comes from {packages}: uninstall one of them")
    entry = entries[0]
    try:
        opener = entry.load()
    except (ImportError, AttributeError) as error:
        raise BadAddress(
            f"driver {name!r} of {_package(entry)} cannot be loaded ({error}): install it again"
        ) from error
    if not callable(opener):
        raise BadAddress(f"driver {name!r} of {_package(entry)} is not a function that opens one")
    return cast(OpensDriver, opener)


def open_driver(set_up: DriverSetUp) -> Driver:
    """The driver that the address names, made and still closed.

    SCPI and plain lines are both text: there the description's kind says which driver it is.

    Raises
    ------
    DoNotRepeat
        Where the address, its options or the description cannot be used.
    """
    name = set_up.address.driver
    described = description_name(set_up, "")
    if name in TEXT_KINDS and described:
        # Late: it loads pydantic, which `bathvigil find` must not wait for.
        from drivers.description import description_kind

        kind = description_kind(described)
        name = kind if kind in TEXT_KINDS else name
    return find_opener(name)(set_up)


def _package(entry: EntryPoint) -> str:
    return entry.dist.name if entry.dist is not None else entry.value
