"""A doubt about text: a reading whose first or last digits the line may have lost.

Text has no check sum. "12.34" that arrives as "2.34" is a number like any other, and so is "12.3"
where noise looks like the end of the line. Where the line was just in trouble, a value that fell by
the first digit of the last one is therefore suspect, and so is one with fewer decimals than usual.
Only once: a true value is there at the next reading, too, and is good then.
"""

from dataclasses import replace
from math import floor, log10

from drivers.link.dialogue import Tally
from drivers.reading import Reading

NEAR = 0.2
"""Of the first digit's worth: what the value itself may have moved between two readings."""


class LostDigit:
    """Holds each reading of one supply against the last one."""

    def __init__(self) -> None:
        self._last: Reading | None = None
        self._troubles = 0
        self._decimals = {"volts": 0, "amps": 0}

    def doubted(self, reading: Reading, tally: Tally) -> Reading:
        """The same reading, with a doubt where a digit may be lost."""
        troubles = tally.garbled + tally.late + tally.resyncs
        is_after_trouble = troubles != self._troubles
        self._troubles = troubles
        last, self._last = self._last, reading
        if last is None or reading.doubt is not None:
            return reading
        for name, before, now in (
            ("volts", last.volts, reading.volts),
            ("amps", last.amps, reading.amps),
        ):
            if not is_after_trouble:
                self._decimals[name] = max(self._decimals[name], decimals(now))
            elif may_have_lost_a_digit(before, now):
                words = f"{name} {now:g} right after line trouble: {before:g} less a digit?"
                return replace(reading, doubt=words)
            elif now and decimals(now) < self._decimals[name]:
                words = f"{name} {now:g} right after line trouble: less its last digit?"
                return replace(reading, doubt=words)
        return reading


def decimals(value: float | None) -> int:
    """How many decimals a value has, six at the most.

    >>> decimals(15.87), decimals(15.8), decimals(16.0), decimals(None)
    (2, 1, 0, 0)
    """
    if value is None:
        return 0
    return len(f"{value:.6f}".rstrip("0").partition(".")[2])


def may_have_lost_a_digit(before: float | None, now: float | None) -> bool:
    """Whether a value could be the one before without its first digit.

    Examples
    --------
    >>> may_have_lost_a_digit(12.31, 2.34), may_have_lost_a_digit(12.31, 12.34)
    (True, False)
    """
    if before is None or now is None or before == 0.0:
        return False
    worth = 10.0 ** floor(log10(abs(before)))
    first = (abs(before) // worth) * worth
    return abs(abs(before) - abs(now) - first) <= NEAR * worth
