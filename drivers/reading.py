"""What a supply answered, in V, A and degrees Celsius; the recorder adds the time."""

from dataclasses import dataclass, field
from enum import IntEnum


class Mode(IntEnum):
    """What the supply says that it is doing; the number is what the store keeps."""

    UNKNOWN = 0
    CONSTANT_VOLTAGE = 1
    CONSTANT_CURRENT = 2
    CUT_OUT = 3
    OUTPUT_OFF = 4

    @property
    def word(self) -> str:
        """The word in exports and on screen, such as "constant-voltage"."""
        return self.name.lower().replace("_", "-")


@dataclass(frozen=True, slots=True)
class Reading:
    """One answer of one supply.

    Parameters
    ----------
    volts, amps, celsius
        At the supply's terminals; the bath's temperature if a probe is wired to it.
        None where the supply gave no value. Never NaN, never a stand-in number.
    mode
        As the supply reports it; `Mode.UNKNOWN` where it does not say.
    apart_s
        Seconds between the answers for volts and amps, where the supply needs two questions;
        0.0 where one answer carried both.
    doubt
        Why the values are kept but must not be reckoned with, such as "amps out of range";
        None for a good reading.
    span_ns
        From the question for the first of volts and amps to the answer with the last, on the clock
        that the driver was given; None where the driver does not know more than its caller.
    """

    volts: float | None
    amps: float | None
    celsius: float | None = None
    mode: Mode = Mode.UNKNOWN
    apart_s: float = 0.0
    doubt: str | None = None
    span_ns: tuple[int, int] | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Identity:
    """Who answered: the supply's own words, made inert, and the part that must not change."""

    text: str
    serial: str | None = None
