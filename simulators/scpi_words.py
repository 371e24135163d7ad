"""The words of SCPI-1999: headers in long and short form, numbers, truth values.

A header is written as in a manual: capitals are the short form, brackets may be left out, as in
`MEASure[:SCALar]:VOLTage[:DC]?`.
"""

import itertools
import math
import re

Header = tuple[str, ...]

_NUMBER = re.compile(r"([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:E[+-]?\d+)?)\s*([A-Z]*)", re.ASCII)
_NODE = re.compile(r"(\[?):?([A-Za-z*]+)\]?")
_SCALE = {"": 1.0, "M": 1e-3, "U": 1e-6, "K": 1e3}


class ScpiError(Exception):
    """What goes into the error queue: a number and the text that belongs to it."""

    def __init__(self, number: int) -> None:
        super().__init__(f'{number},"{ERRORS[number]}"')
        self.number = number


# Numbers and texts: SCPI-1999 vol. 2, chapter 21.8.
ERRORS = {
    -101: "Invalid character",
    -104: "Data type error",
    -108: "Parameter not allowed",
    -109: "Missing parameter",
    -113: "Undefined header",
    -131: "Invalid suffix",
    -200: "Execution error",
    -221: "Settings conflict",
    -222: "Data out of range",
    -224: "Illegal parameter value",
    -350: "Queue overflow",
    -363: "Input buffer overrun",
}


def spellings(pattern: str) -> set[Header]:
    """Every way to spell a header, in capitals, a question mark at its end kept on the last word.

    Examples
    --------
    >>> sorted(":".join(words) for words in spellings("OUTPut[:STATe]?"))
    ['OUTP:STAT?', 'OUTP:STATE?', 'OUTP?', 'OUTPUT:STAT?', 'OUTPUT:STATE?', 'OUTPUT?']
    """
    mark = "?" if pattern.endswith("?") else ""
    choices: list[list[str]] = []
    for bracket, word in _NODE.findall(pattern.rstrip("?")):
        short = "".join(letter for letter in word if not letter.islower())
        choices.append([*({short, word.upper()}), *([""] if bracket else [])])
    headers = set()
    for words in itertools.product(*choices):
        header = tuple(word for word in words if word)
        headers.add((*header[:-1], header[-1] + mark))
    return headers


def split_header(text: str) -> Header:
    """`:Meas:Volt1?` as the words that `spellings` gives; a suffix of 1 is the same as none.

    Examples
    --------
    >>> split_header(":meas:volt1?")
    ('MEAS', 'VOLT?')
    """
    mark = "?" if text.endswith("?") else ""
    words = [word.removesuffix("1") for word in text.upper().rstrip("?").lstrip(":").split(":")]
    return (*words[:-1], words[-1] + mark)


def number(text: str, unit: str, words: dict[str, float]) -> float:
    """A number with or without its unit, or one of the words that stand for one.

    Raises
    ------
    ScpiError
        -104 for something else, -131 for another unit.

    Examples
    --------
    >>> number("9000 mV", "V", {})
    9.0
    >>> number("max", "V", {"MAX": 12.0})
    12.0
    """
    text = text.strip().upper()
    if text in words:
        return words[text]
    match = _NUMBER.fullmatch(text)
    if match is None:
        raise ScpiError(-104)
    suffix = match[2]
    if suffix and (not unit or not suffix.endswith(unit) or suffix[: -len(unit)] not in _SCALE):
        raise ScpiError(-131)
    value = float(match[1]) * (_SCALE[suffix[: -len(unit)]] if suffix else 1.0)
    if not math.isfinite(value):
        raise ScpiError(-222)
    return value


def truth_value(text: str) -> bool:
    """ON, OFF, or a number, of which only nought is off."""
    return bool(round(number(text, "", {"ON": 1.0, "OFF": 0.0})))


def limits(least: float, most: float) -> dict[str, float]:
    """The words for the ends of a range, as `number` takes them."""
    return {"MIN": least, "MINIMUM": least, "MAX": most, "MAXIMUM": most}


def decimals(step: float) -> int:
    """How many digits behind the point a meter of that resolution shows.

    Examples
    --------
    >>> decimals(0.01), decimals(0.005), decimals(1.0)
    (2, 3, 0)
    """
    places = 0
    while places < 6 and abs(round(step, places) - step) > 1e-9:
        places += 1
    return places
