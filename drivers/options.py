"""The options behind an address's question mark in, settled values out; unknown ones refused."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import chain

from drivers.base.clock import Clock
from drivers.base.nearest import nearest_hint
from drivers.driver import DriverSetUp
from drivers.errors import BadAddress
from drivers.link.link import Link
from drivers.link.serial_link import SerialLink
from drivers.link.serial_settings import SERIAL_OPTIONS, SerialSettings, read_serial_settings
from drivers.link.tcp_link import TcpLink

COMMON_OPTIONS = ("timeout", "quiet_ms", "description")


@dataclass(frozen=True, slots=True)
class LinkOptions:
    """What a driver needs to begin with.

    Parameters
    ----------
    link
        Closed as yet.
    timeout_s, quiet_s
        As the options say; None where they do not.
    description
        Name or path of the supply's description; None for the driver's own.
    others
        The driver's own options.
    """

    link: Link
    timeout_s: float | None
    quiet_s: float | None
    description: str | None
    others: Mapping[str, str]


def all_options(set_up: DriverSetUp) -> dict[str, str]:
    """The options from the settings, and over them those from the address."""
    return dict(chain(set_up.options.items(), set_up.address.options.items()))


def refuse_unknown_options(set_up: DriverSetUp, own: Iterable[str] = ()) -> None:
    """Refuse options that neither the link nor the driver knows.

    Raises
    ------
    BadAddress
        Naming the nearest valid one.
    """
    is_serial = set_up.address.path is not None
    valid = {*COMMON_OPTIONS, *(SERIAL_OPTIONS if is_serial else ()), *own}
    for name in all_options(set_up):
        if name in valid:
            continue
        if name in SERIAL_OPTIONS:
            raise BadAddress(f"{set_up.address.text}: {name} is only for a serial port")
        hint = nearest_hint(name, valid)
        raise BadAddress(f"{set_up.address.text}: unknown option {name!r}; {hint}")


def read_options(
    set_up: DriverSetUp, serial: SerialSettings, own: Iterable[str] = ()
) -> LinkOptions:
    """Settle the options, and make the link that they describe.

    Parameters
    ----------
    serial
        How a serial port is set where the options do not say.
    own
        Names of the options that only this driver knows.

    Raises
    ------
    BadAddress
        For an unknown option, or a value that cannot be used.
    """
    refuse_unknown_options(set_up, own)
    options = all_options(set_up)
    quiet_ms = _number(set_up, options, "quiet_ms", 1.0, 5000.0)
    return LinkOptions(
        link=_link(set_up, options, serial, set_up.clock),
        timeout_s=_number(set_up, options, "timeout", 0.01, 30.0),
        quiet_s=None if quiet_ms is None else quiet_ms / 1000,
        description=set_up.description or options.get("description"),
        others={name: options[name] for name in own if name in options},
    )


def _link(
    set_up: DriverSetUp, options: Mapping[str, str], serial: SerialSettings, clock: Clock
) -> Link:
    address = set_up.address
    if address.path is not None:
        try:
            return SerialLink(address.path, read_serial_settings(options, serial), clock)
        except BadAddress as error:
            raise BadAddress(f"{address.text}: {error}") from error
    if address.host is None or address.port is None:
        raise BadAddress(f"{address.text}: leads neither to a serial port nor to a host")
    return TcpLink(address.host, address.port, clock)


def _number(
    set_up: DriverSetUp, options: Mapping[str, str], name: str, least: float, most: float
) -> float | None:
    text = options.get(name)
    if text is None:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not least <= value <= most:
        bounds = f"a number from {least:g} to {most:g}"
        raise BadAddress(f"{set_up.address.text}: {name}={text!r} must be {bounds}")
    return value
