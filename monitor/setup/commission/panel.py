"""The numbers that a supply's front panel shows, each with what its last digit is worth."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from math import log10
from typing import TypeAlias

from monitor.base.errors import WrongUse

_SHOWN = re.compile(r"\s*([0-9]{1,6})(?:[.,]([0-9]{1,6}))?\s*[VAva]?\s*", re.ASCII)
FITS_SHARE = 0.01
FITS_STEPS = 2.0
NEAR_SHARE = 0.05
"""A reading fits within 1 % and two of the panel's last digits; within 5 % it is near, so that it
may not be told apart from one that fits."""


@dataclass(frozen=True, slots=True)
class Shown:
    """One number on the panel.

    Parameters
    ----------
    value
        In V, A or degrees Celsius.
    step
        What its last digit is worth.
    """

    value: float
    step: float

    @property
    def words(self) -> str:
        """As it was shown, with the digits that it had."""
        return f"{self.value:.{-round(log10(self.step))}f}"

    def is_near(self, value: float) -> bool:
        """Whether a value may be the one that is shown."""
        return abs(value - self.value) <= NEAR_SHARE * self.value + FITS_STEPS * self.step

    def fits(self, value: float) -> bool:
        """Whether a value is the one that is shown, as two meters agree."""
        return abs(value - self.value) <= FITS_SHARE * self.value + FITS_STEPS * self.step


def read_shown(text: str) -> Shown:
    """Understand what was typed.

    Raises
    ------
    WrongUse

    Examples
    --------
    >>> read_shown("12.03 V")
    Shown(value=12.03, step=0.01)
    >>> read_shown("12,0").words
    '12.0'
    """
    match = _SHOWN.fullmatch(text)
    if match is None:
        raise WrongUse(f"{text!r}: type the number as the panel shows it, such as 12.03")
    decimals = match[2] or ""
    return Shown(float(f"{match[1]}.{decimals or 0}"), 10.0 ** -len(decimals))


Panel: TypeAlias = Mapping[str, Shown]
"""What the panel shows at one setting: "volts", "amps", and "celsius" where it is asked for."""
_UNITS = {"volts": "V", "amps": "A", "celsius": "C"}


def panel_text(panel: Panel) -> str:
    """Such as "12.04 V, 5.37 A", with the digits that were shown."""
    return ", ".join(
        f"{panel[name].words} {unit}" for name, unit in _UNITS.items() if name in panel
    )
