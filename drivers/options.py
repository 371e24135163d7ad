"""The options in an address: how they are read and checked.

Read without pydantic, which `bathvigil find` must not wait for.
"""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Generic, TypeVar

from drivers.address import MESSAGE_DRIVERS
from drivers.base.nearest import nearest_hint
from drivers.driver import DriverSetUp
from drivers.errors import BadAddress
from drivers.link.link import Link
from drivers.link.serial_link import SerialLink
from drivers.link.serial_settings import HIGHEST_BAUD, LOWEST_BAUD, SerialSettings
from drivers.link.tcp_link import TcpLink

T = TypeVar("T")

_MOST_DIGITS = 9
"""Python reads no whole number of some thousand digits."""


@dataclass(frozen=True, slots=True)
class OptionForm(Generic[T]):
    """What one option can be.

    Parameters
    ----------
    words
        What it must be, for messages.
    read
        Its value; None for a text that cannot be used.
    """

    words: str
    read: Callable[[str], T | None]


def choice(words: str, meanings: Mapping[str, T]) -> OptionForm[T]:
    """One of some words, in any case."""
    return OptionForm(words, lambda text: meanings.get(text.lower()))


def whole(words: str, valid: Callable[[int], bool]) -> OptionForm[int]:
    """A whole number in digits."""

    def read(text: str) -> int | None:
        is_number = text.isascii() and text.isdigit() and len(text) <= _MOST_DIGITS
        return int(text) if is_number and valid(int(text)) else None

    return OptionForm(words, read)


def _number(least: float, most: float) -> OptionForm[float]:
    def read(text: str) -> float | None:
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        return value if least <= value <= most else None

    return OptionForm(f"a number from {least:g} to {most:g}", read)


_LEVEL = choice("leave, low or high", {level: level for level in ("leave", "low", "high")})
SERIAL_OPTIONS: dict[str, OptionForm[Any]] = {
    "baud": whole("a number such as 9600", lambda baud: LOWEST_BAUD <= baud <= HIGHEST_BAUD),
    "parity": choice(
        "none, even or odd",
        {short: word for word in ("none", "even", "odd") for short in (word, word[0])},
    ),
    "stop_bits": choice("1 or 2", {"1": 1, "2": 2}),
    "data_bits": choice("7 or 8", {"7": 7, "8": 8}),
    "dtr": _LEVEL,
    "rts": _LEVEL,
}
"""By the names of the fields of `SerialSettings`."""
_TIMEOUT = _number(0.01, 30.0)
_QUIET_MS = _number(1.0, 5000.0)
COMMON_OPTIONS = ("timeout", "quiet_ms", "description")


@dataclass(frozen=True, slots=True)
class LinkOptions:
    """What a driver needs to begin with.

    Parameters
    ----------
    address
        The address in full, for messages.
    given
        The options as they stand in the address and the settings.
    link
        Closed as yet.
    timeout_s, quiet_s
        As the options say; None where they do not.
    """

    address: str
    given: Mapping[str, str]
    link: Link
    timeout_s: float | None
    quiet_s: float | None

    def value(self, name: str, form: OptionForm[T]) -> T | None:
        """One of the driver's own options; None where it is not given. Raises `BadAddress`."""
        return _value(self.address, self.given, name, form)


def all_options(set_up: DriverSetUp) -> dict[str, str]:
    """The options from the settings, and over them those from the address."""
    return {**set_up.options, **set_up.address.options}


def description_name(set_up: DriverSetUp, default: str) -> str:
    """Name or path of the supply's description."""
    return set_up.description or all_options(set_up).get("description", default)


def read_options(
    set_up: DriverSetUp, serial: SerialSettings, own: Iterable[str] = ()
) -> LinkOptions:
    """Check the options, and make the link that they describe.

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
    address, given = set_up.address, all_options(set_up)
    _refuse_unknown(set_up, given, own)

    def value(name: str, form: OptionForm[T]) -> T | None:
        return _value(address.text, given, name, form)

    link: Link
    if address.path is not None and address.driver in MESSAGE_DRIVERS:
        link = _message_link(set_up, address.path, given)
    elif address.path is not None:
        values = {name: value(name, form) for name, form in SERIAL_OPTIONS.items()}
        chosen = {name: each for name, each in values.items() if each is not None}
        link = SerialLink(address.path, replace(serial, **chosen), set_up.clock)
    elif address.host is not None and address.port is not None:
        link = TcpLink(address.host, address.port, set_up.clock)
    else:
        raise BadAddress(f"{address.text}: names neither a serial port nor a host")
    quiet_ms = value("quiet_ms", _QUIET_MS)
    quiet_s = None if quiet_ms is None else quiet_ms / 1000
    return LinkOptions(address.text, given, link, value("timeout", _TIMEOUT), quiet_s)


def _message_link(set_up: DriverSetUp, path: str, given: Mapping[str, str]) -> Link:
    # Late: few need them, and one of them looks for a library.
    if set_up.address.driver == "visa":
        from drivers.link.visa_link import VisaLink

        return VisaLink(path, set_up.clock, given.get("library"))
    from drivers.link.usbtmc_link import UsbtmcLink

    return UsbtmcLink(path, set_up.clock)


def _refuse_unknown(set_up: DriverSetUp, given: Mapping[str, str], own: Iterable[str]) -> None:
    valid = {*COMMON_OPTIONS, *own, *(SERIAL_OPTIONS if set_up.address.is_serial else ())}
    valid |= {"library"} if set_up.address.driver == "visa" else set()
    for name in given:
        if name in valid:
            continue
        if name in SERIAL_OPTIONS:
            raise BadAddress(f"{set_up.address.text}: {name} is only for a serial port")
        hint = nearest_hint(name, valid)
        raise BadAddress(f"{set_up.address.text}: unknown option {name!r}; {hint}")


def _value(address: str, given: Mapping[str, str], name: str, form: OptionForm[T]) -> T | None:
    text = given.get(name)
    value = None if text is None else form.read(text)
    if text is not None and value is None:
        raise BadAddress(f"{address}: {name}={text!r} must be {form.words}")
    return value
