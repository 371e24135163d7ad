"""Cuts a plain answer into numbers, words and the rest, so that answers can be compared.

Spaces beside a number belong to it: their count changes with the number's width.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from drivers.text.answer import unit_factor


class Digits(Enum):
    """How numbers are written; tried in this order."""

    POINT = "."
    COMMA = ","
    HEX = "16"


_REST = r"|(?P<word>[A-Za-z\xb5]+)|(?P<space>[ \t]+)|(?P<rest>.)"
# Two to four hexadecimal digits behind a star are a check sum (as in NMEA 0183, from memory).
_SUM = r"(?P<sum>\*[0-9A-Fa-f]{2,4}\Z)|"


def _decimal(sign: str) -> str:
    # A sign behind a number is none where a number follows it; nor is one between two digits.
    exponent = rf"(?:[eE][+-]?[0-9]{{1,3}}(?![0-9]|{sign}))?"
    return (
        rf"(?P<number>(?:(?<![0-9])[+-][ ]*)?[0-9]+(?:{sign}[0-9]+)?{exponent}"
        r"(?:[+-](?![ ]*[0-9.,]))?)"
    )


_TOKENS = {
    Digits.POINT: re.compile(_SUM + _decimal(r"\.") + _REST, re.DOTALL),
    Digits.COMMA: re.compile(_SUM + _decimal(",") + _REST, re.DOTALL),
    Digits.HEX: re.compile(
        r"(?P<number>(?<![0-9A-Fa-f])(?:0[xX])?[0-9A-Fa-f]{2,8}(?![0-9A-Za-z]))" + _REST, re.DOTALL
    ),
}
_UNITS = {"volts": "V", "amps": "A", "celsius": "C"}


@dataclass(frozen=True, slots=True)
class Token:
    """One piece of an answer.

    Parameters
    ----------
    kind
        "number", "word", "sum" (a check sum) or "rest".
    before, behind
        The spaces that belong to a number.
    """

    kind: str
    text: str
    before: str = ""
    behind: str = ""


def cut(answer: str, digits: Digits) -> list[Token]:
    """All pieces of an answer, in order."""
    raw = [(str(match.lastgroup), match[0]) for match in _TOKENS[digits].finditer(answer)]
    tokens: list[Token] = []
    before = ""
    for place, (kind, text) in enumerate(raw):
        follows = raw[place + 1][0] if place + 1 < len(raw) else ""
        if kind == "space" and follows == "number":
            before = text
        elif kind == "space" and tokens and tokens[-1].kind == "number":
            last = tokens[-1]
            tokens[-1] = Token("number", last.text, last.before, text)
        else:
            tokens.append(Token("rest" if kind == "space" else kind, text, before))
            before = ""
    return tokens


def value_of(text: str, digits: Digits) -> float:
    """The number that a token's text says."""
    if digits is Digits.HEX:
        return float(int(text, 16))
    plain = text.replace(" ", "").replace(digits.value, ".")
    if plain[-1] in "+-":
        plain = plain[-1] + plain[:-1]
    return float(plain)


def unit_behind(tokens: Sequence[Token], place: int) -> str | None:
    """The unit behind a number; None where what stands there is another thing's name."""
    if place + 1 >= len(tokens) or tokens[place + 1].kind != "word":
        return None
    first_number = next(n for n, token in enumerate(tokens) if token.kind == "number")
    if any(is_a_unit(token.text) for token in tokens[:first_number] if token.kind == "word"):
        return None  # names stand before their numbers here
    word = tokens[place + 1].text
    follows = tokens[place + 2].text if place + 2 < len(tokens) else ""
    return word if is_a_unit(word) and follows not in ("=", ":") else None


def is_a_unit(word: str) -> bool:
    """Whether a word is volts or amps, or their thousandths."""
    return any(unit_factor(word, unit) is not None for unit in "VA")


def values(tokens: Sequence[Token], digits: Digits, name: str) -> dict[int, float]:
    """The value of each number that could be a quantity by its unit, in V or A, by its place."""
    found: dict[int, float] = {}
    for place, token in enumerate(tokens):
        if token.kind != "number":
            continue
        unit = unit_behind(tokens, place)
        factor = 1.0 if unit is None else unit_factor(unit, _UNITS[name])
        if factor is not None:
            found[place] = value_of(token.text, digits) * factor
    return found
