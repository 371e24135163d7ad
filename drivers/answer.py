"""What is common to all answers in text: how they fail, and how a supply reports an error."""

import re
from dataclasses import dataclass

# IEEE 488.2 NR1 and quoted text, as SCPI-1999 volume 2, 21.8 (SYSTem:ERRor?) puts them together.
_ERROR = re.compile(r'\s*([+-]?[0-9]{1,6})\s*,\s*"([^"]*(?:""[^"]*)*)"\s*', re.ASCII)


class NotUnderstood(ValueError):
    """An answer is not of the form that its question asks for; the message says why."""


@dataclass(frozen=True, slots=True)
class SupplyError:
    """One entry of a supply's error queue.

    Codes (SCPI-1999 volume 2, 21.8): 0 no error; -100 to -199 command, -200 to -299 execution,
    -300 to -399 device, -400 to -499 query; above 0 the supply's own.
    """

    code: int
    text: str


def read_supply_error(text: str) -> SupplyError | None:
    """The error that `text` reports, or None where it is not of that form.

    Examples
    --------
    >>> read_supply_error('-113,"Undefined header"')
    SupplyError(code=-113, text='Undefined header')
    >>> read_supply_error('+0,"No error"').code
    0
    >>> read_supply_error("12.5") is None
    True
    """
    match = _ERROR.fullmatch(text)
    if match is None:
        return None
    return SupplyError(int(match[1]), match[2].replace('""', '"'))
