"""Tagged values for tests: each value tells its quantity, its supply and its question.

A tag is a whole number from 101 to 29999, so that it fits every register of 16 bits:
`(number % 300) * 100 + (unit % 10) * 10 + code`. What is sent is the tag times the step of the
wire: the scale of a register, the last digit of a text.
"""

from dataclasses import dataclass

CODES = {"volts": 1, "amps": 2, "celsius": 3, "watts": 4}
QUANTITIES = {code: quantity for quantity, code in CODES.items()}
NUMBERS = 300
# What SCPI and floats send per tag: three digits behind the point.
TAG_STEP = 0.001


@dataclass(frozen=True, slots=True)
class Tag:
    """What one value says of itself.

    Parameters
    ----------
    quantity
        One of `CODES`.
    unit
        Last digit of the supply's number.
    number
        Which question for this quantity it answers, counted from 1, after 299 from 0 again.
    """

    quantity: str
    unit: int
    number: int

    @property
    def whole(self) -> int:
        """The tag as a whole number."""
        return self.number % NUMBERS * 100 + self.unit % 10 * 10 + CODES[self.quantity]


def read_tag(value: float, step: float = TAG_STEP) -> Tag | None:
    """What a value says of itself; None where it is no tag.

    Examples
    --------
    >>> read_tag(4.211)
    Tag(quantity='volts', unit=1, number=42)
    >>> read_tag(42.12, step=0.01)
    Tag(quantity='amps', unit=1, number=42)
    >>> read_tag(4.2115) is None
    True
    """
    whole = round(value / step)
    if abs(value / step - whole) > 0.02 or not 0 <= whole < NUMBERS * 100:
        return None
    number, rest = divmod(whole, 100)
    unit, code = divmod(rest, 10)
    if code not in QUANTITIES:
        return None
    return Tag(QUANTITIES[code], unit, number)
