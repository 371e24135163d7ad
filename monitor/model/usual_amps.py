"""What a like job draws shortly after switching on."""

from typing import NamedTuple


class UsualAmps(NamedTuple):
    """What is usual, and from where on it is unusual.

    Parameters
    ----------
    low, middle, high
        Amps.
    volts, celsius
        At which they flow; None where the amps are not brought to others.
    most_volts
        The highest at which a like job began; None where not known.
    """

    low: float
    middle: float
    high: float
    volts: float | None = None
    celsius: float | None = None
    most_volts: float | None = None
