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
    r"(?:[ \t]*([A-Za-z%\xb5\xb0][A-Za-z%]{0,7}))?[ \t]*",
    re.ASCII,
)
_WORDS = {
    "NAN": "not a number",
    "INF": "infinite",
    "INFINITY": "infinite",
    "NINF": "infinite",
    "NINFINITY": "infinite",
}

_SPELT = {
    "V": ("V", "VDC", "VOLT", "VOLTS"),
    "A": ("A", "ADC", "AMP", "AMPS", "AMPERE"),
}
_PREFIXES = {"M": 1e-3, "U": 1e-6, "\u039c": 1e-6, "\xb5": 1e-6, "K": 1e3}
"""The micro sign in capitals is the Greek letter."""


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
        What may stand behind the number, in any case, such as "V"; "" for nothing. With "V" and
        "A" its thousandths and thousands are understood, too (`12.5 mV`).

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
    >>> read_number("850 mA", unit="A").value
    0.85
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
    value = float(match[1])
    why = refused_as_sentinel(value)
    if why is not None:
        return Number(None, why)
    factor = 1.0 if match[2] is None else unit_factor(match[2], unit)
    if factor is None:
        words = f"{match[1]}{match[2]}".lstrip("+-").upper()
        raise NotUnderstood(f"unit {match[2]!r} where {unit or 'none'!r} was expected in {words}")
    return Number(value if factor == 1.0 else float(f"{value * factor:.12g}"))


def unit_factor(text: str, unit: str) -> float | None:
    """What a number of this unit is worth in `unit`; None where it is another one.

    The prefixes are those of the SI brochure (BIPM, 9th edition, table 7). No bench supply gives
    megavolts: "MV" is written for millivolts, as in IEEE 488.2-1992, 7.7.3 (from memory).

    Examples
    --------
    >>> unit_factor("mV", "V"), unit_factor("Adc", "A"), unit_factor("W", "V")
    (0.001, 1.0, None)
    """
    word, spelt = text.upper(), _SPELT.get(unit.upper(), (unit.upper(),))
    if word in spelt:
        return 1.0
    if unit.upper() not in _SPELT or word[1:] not in spelt:
        return None
    return _PREFIXES.get(word[0])
