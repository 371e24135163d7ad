"""What an answer in text can hold: one number, or an entry of the supply's error queue.

Numbers have the forms of IEEE 488.2-1992, 8.7: NR1 (`12`), NR2 (`12.5`), NR3 (`1.25E+01`), with an
optional unit behind. One anchored pattern; no locale has a say in it.
"""

import re
from dataclasses import dataclass

from drivers.errors import NotUnderstood
from drivers.number import Number, refused_as_sentinel

# IEEE 488.2 NR1 and quoted text, as SCPI-1999 volume 2, 21.8 (SYSTem:ERRor?) puts them together.
_ERROR = re.compile(r'\s*([+-]?[0-9]{1,6})\s*,\s*"([^"]*(?:""[^"]*)*)"\s*', re.ASCII)
_LONGEST = 64

_PATTERN = re.compile(
    r"[ \t]*([+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,4})?)"
    r"(?:[ \t]*([A-Za-z%][A-Za-z%]{0,7}))?[ \t]*",
    re.ASCII,
)
_WORDS = {
    "NAN": "not a number",
    "INF": "infinite",
    "INFINITY": "infinite",
    "NINF": "infinite",
    "NINFINITY": "infinite",
}


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


def read_number(text: str, unit: str = "") -> Number:
    """Read one number and nothing else.

    Parameters
    ----------
    text
        The whole answer, or one part of a compound one.
    unit
        What may stand behind the number, in any case, such as "V"; "" for nothing.

    Raises
    ------
    NotUnderstood
        For anything else: two numbers, a decimal comma, another unit, rubbish.

    Examples
    --------
    >>> read_number("+1.234E+01").value
    12.34
    >>> read_number("12.5 V", unit="V").value
    12.5
    >>> read_number("9.91E37")
    Number(value=None, why='not a number (9.91E37)')
    """
    if len(text) > _LONGEST:
        raise NotUnderstood(f"{len(text)} characters where a number was expected")
    match = _PATTERN.fullmatch(text)
    if match is None:
        word = text.strip(" \t").lstrip("+-").upper()
        if word in _WORDS:
            return Number(None, f"{_WORDS[word]} ({word})")
        raise NotUnderstood("not one number")
    if match[2] is not None and match[2].upper() != unit.upper():
        words = f"{match[1]}{match[2]}".lstrip("+-").upper()
        raise NotUnderstood(f"unit {match[2]!r} where {unit or 'none'!r} was expected in {words}")
    value = float(match[1])
    why = refused_as_sentinel(value)
    return Number(value) if why is None else Number(None, why)
