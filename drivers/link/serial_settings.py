"""How a serial port is set: speed, form of a character, modem lines."""

from dataclasses import dataclass
from typing import Annotated, Literal, TypeAlias

from annotated_types import Interval

Parity = Literal["none", "even", "odd"]
Level = Literal["leave", "low", "high"]
LOWEST_BAUD, HIGHEST_BAUD = 50, 4_000_000
Baud: TypeAlias = Annotated[int, Interval(ge=LOWEST_BAUD, le=HIGHEST_BAUD)]


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
