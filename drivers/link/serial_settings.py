"""How a serial port is set: the words of an address or a description in, settled values out."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Annotated, Literal, TypeAlias

from annotated_types import Interval

from drivers.errors import BadAddress

Parity = Literal["none", "even", "odd"]
Level = Literal["leave", "low", "high"]
Baud: TypeAlias = Annotated[int, Interval(ge=50, le=4_000_000)]

SERIAL_OPTIONS = ("baud", "parity", "stop_bits", "data_bits", "dtr", "rts")

_PARITIES: dict[str, Parity] = {
    "none": "none",
    "n": "none",
    "even": "even",
    "e": "even",
    "odd": "odd",
    "o": "odd",
}
_LEVELS: dict[str, Level] = {"leave": "leave", "low": "low", "high": "high"}
_HIGHEST_BAUD = 4_000_000
_MOST_DIGITS = 9
"""Python reads no whole number of some thousand digits."""


@dataclass(frozen=True, slots=True)
class SerialSettings:
    """How one port is set.

    Parameters
    ----------
    baud
        Bits per second.
    parity, stop_bits, data_bits
        As the supply's manual gives them, such as none, 1 and 8.
    dtr, rts
        The level of the two modem lines while the port is open; "leave" touches neither. The
        operating system itself raises both when a port is opened; only wiring cures that.
    """

    baud: int = 9600
    parity: Parity = "none"
    stop_bits: Literal[1, 2] = 1
    data_bits: Literal[7, 8] = 8
    dtr: Level = "leave"
    rts: Level = "leave"

    @property
    def words(self) -> str:
        """Such as "9600 baud 8N1", for messages."""
        return f"{self.baud} baud {self.data_bits}{self.parity[0].upper()}{self.stop_bits}"


def read_serial_settings(options: Mapping[str, str], defaults: SerialSettings) -> SerialSettings:
    """Put the options that are given over the defaults; other options are not looked at.

    Raises
    ------
    BadAddress
        Naming the option and what it can be.

    Examples
    --------
    >>> read_serial_settings({"baud": "19200", "parity": "even"}, SerialSettings()).words
    '19200 baud 8E1'
    """
    settings = defaults
    if (baud := options.get("baud")) is not None:
        digits = baud if baud.isascii() and baud.isdigit() and len(baud) <= _MOST_DIGITS else "0"
        if not 50 <= int(digits) <= _HIGHEST_BAUD:
            raise _refused("baud", baud, "a number such as 9600")
        settings = replace(settings, baud=int(digits))
    if (parity := options.get("parity")) is not None:
        if parity.lower() not in _PARITIES:
            raise _refused("parity", parity, "none, even or odd")
        settings = replace(settings, parity=_PARITIES[parity.lower()])
    if (stop := options.get("stop_bits")) is not None:
        if stop not in ("1", "2"):
            raise _refused("stop_bits", stop, "1 or 2")
        settings = replace(settings, stop_bits=1 if stop == "1" else 2)
    if (data := options.get("data_bits")) is not None:
        if data not in ("7", "8"):
            raise _refused("data_bits", data, "7 or 8")
        settings = replace(settings, data_bits=7 if data == "7" else 8)
    if (dtr := options.get("dtr")) is not None:
        settings = replace(settings, dtr=_level("dtr", dtr))
    if (rts := options.get("rts")) is not None:
        settings = replace(settings, rts=_level("rts", rts))
    return settings


def _level(name: str, word: str) -> Level:
    if word.lower() not in _LEVELS:
        raise _refused(name, word, "leave, low or high")
    return _LEVELS[word.lower()]


def _refused(name: str, word: str, valid: str) -> BadAddress:
    return BadAddress(f"{name}={word!r} cannot be used: {name} is {valid}")
