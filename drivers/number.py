"""The text of one number in, the number out, or the reason why there is none.

The forms are those of IEEE 488.2-1992, 8.7: NR1 (`12`), NR2 (`12.5`), NR3 (`1.25E+01`), with an
optional unit behind. One anchored pattern; no locale has a say in it.
"""

import math
import re
from dataclasses import dataclass

from drivers.answer import NotUnderstood

# SCPI-1999 volume 1, 7.2.1.4 and 7.2.1.5: not-a-number is 9.91E37, infinity +-9.9E37.
NOT_A_NUMBER = 9.91e37
INFINITE = 9.9e37
# A supply that reckons in single precision prints 9.9E37 as 9.8999997E37.
_SENTINELS_FROM = INFINITE * (1 - 1e-4)
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
class Number:
    """A value, or None and why the supply gave none, such as "not a number (9.91E37)"."""

    value: float | None
    why: str | None = None


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


def refused_as_sentinel(value: float) -> str | None:
    """Why a finite number stands for none, or None where it is a value.

    Examples
    --------
    >>> refused_as_sentinel(-9.9e37), refused_as_sentinel(12.5)
    ('infinite (9.9E37)', None)
    """
    if abs(value) < _SENTINELS_FROM:
        return None
    if math.isclose(value, NOT_A_NUMBER, rel_tol=1e-4):
        return "not a number (9.91E37)"
    if math.isclose(abs(value), INFINITE, rel_tol=1e-4):
        return "infinite (9.9E37)"
    return "too large to be a value"
