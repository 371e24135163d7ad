"""The form of one answer in plain text: where its values stand, and how they are written.

Three forms, each with its test: a pattern for the whole answer, a JSON object by its keys, and
columns between separators.
"""

import csv
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from drivers.errors import NotUnderstood
from drivers.number import Number
from drivers.text.answer import read_number

QUANTITIES = ("volts", "amps", "celsius")
STATUS = "status"
GROUPS = (*QUANTITIES, "volts_unit", "amps_unit", STATUS)
UNITS = {"volts": "V", "amps": "A", "celsius": "C"}
LONGEST_ANSWER = 256
LONGEST_OBJECT = 4096
SPACES = " "
"""As a separator of columns: any number of spaces and tabs."""
_SIGNED = re.compile(r"([+-]?)[ \t]*([^+-]*(?:[eE][+-][0-9]+)?[^+-]*?)([+-]?)")
_HEX = re.compile(r"(?:0[xX])?([0-9A-Fa-f]{1,8})[hH]?")


@dataclass(frozen=True, slots=True)
class LineValues:
    """What one answer says: numbers by quantity, and the word for the state."""

    numbers: dict[str, Number]
    status: str | None


@dataclass(frozen=True, slots=True)
class Writing:
    """How an answer writes its numbers.

    Parameters
    ----------
    scales
        What one step of each quantity is worth in V, A or degrees Celsius.
    has_decimal_comma
        Numbers are written 12,5.
    is_hex
        Numbers are whole and hexadecimal.
    """

    scales: Mapping[str, float]
    has_decimal_comma: bool = False
    is_hex: bool = False

    def number(self, name: str, text: str) -> Number:
        """The value of a quantity, with or without a unit behind; raises `NotUnderstood`.

        Examples
        --------
        >>> Writing({}).number("volts", "850 mV").value
        0.85
        >>> Writing({}).number("amps", "- 3.20").value, Writing({}).number("amps", "3.2-").value
        (-3.2, -3.2)
        >>> Writing({"volts": 0.01}, is_hex=True).number("volts", "0x04B4").value
        12.04
        """
        if self.is_hex:
            match = _HEX.fullmatch(text.strip())
            if match is None:
                raise NotUnderstood(f"{text!r} is no hexadecimal number")
            return self._scaled(name, Number(float(int(match[1], 16))))
        if self.has_decimal_comma:
            if "." in text:
                raise NotUnderstood(f"a point in {text!r} where the decimal sign is a comma")
            text = text.replace(",", ".")
        return self._scaled(name, read_number(_sign_before(text), UNITS[name]))

    def _scaled(self, name: str, number: Number) -> Number:
        if number.value is None:
            return number
        return Number(float(f"{number.value * self.scales.get(name, 1.0):.12g}"))


def _sign_before(text: str) -> str:
    """The same number with its sign before it, and no space between."""
    match = _SIGNED.fullmatch(text.strip())
    if match is None or (match[1] and match[3]):
        return text
    return f"{match[1] or match[3]}{match[2]}"


class AnswerForm(Protocol):
    """The form of one answer."""

    @property
    def groups(self) -> frozenset[str]:
        """The quantities that the answer gives a value to, and "status"."""
        ...

    def understand(self, text: str) -> LineValues:
        """The values of one answer; raises `NotUnderstood`."""
        ...


@dataclass(frozen=True, slots=True)
class LinePattern:
    """An answer whose whole text a pattern matches.

    Parameters
    ----------
    pattern
        Its groups are named volts, volts_unit, amps, amps_unit, celsius, status.
    """

    pattern: re.Pattern[str]
    writing: Writing

    @property
    def groups(self) -> frozenset[str]:
        return frozenset(self.pattern.groupindex) & {*QUANTITIES, STATUS}

    def understand(self, text: str) -> LineValues:
        match = None if len(text) > LONGEST_ANSWER else self.pattern.fullmatch(text)
        if match is None:
            raise NotUnderstood(f"not of the form {self.pattern.pattern}")
        found = match.groupdict()
        for name in self.pattern.groupindex:
            if found[name] is None:
                raise NotUnderstood(f"no {name} in it")
        numbers = {
            name: self.writing.number(name, f"{found[name]}{found.get(f'{name}_unit', '')}")
            for name in QUANTITIES
            if name in found
        }
        return LineValues(numbers, found[STATUS].strip() if STATUS in found else None)


@dataclass(frozen=True, slots=True)
class JsonKeys:
    """An answer that is a JSON object.

    Parameters
    ----------
    pointers
        Where each value stands, as a JSON pointer (RFC 6901) such as "/out/volts".
    """

    pointers: Mapping[str, str]
    writing: Writing

    @property
    def groups(self) -> frozenset[str]:
        return frozenset(self.pointers)

    def understand(self, text: str) -> LineValues:
        document = read_json(text)
        numbers: dict[str, Number] = {}
        status = None
        for name, pointer in self.pointers.items():
            value = look_up(document, pointer)
            if name == STATUS:
                status = str(value).strip()
            else:
                numbers[name] = self._number(name, pointer, value)
        return LineValues(numbers, status)

    def _number(self, name: str, pointer: str, value: object) -> Number:
        if value is None:
            return Number(None, f"no value (null at {pointer})")
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            raise NotUnderstood(f"no number at {pointer}")
        return self.writing.number(name, value if isinstance(value, str) else repr(value))


def read_json(text: str) -> object:
    """A JSON document of one answer; raises `NotUnderstood`."""
    if len(text) > LONGEST_OBJECT:
        raise NotUnderstood(f"{len(text)} characters are too many")
    try:
        document: object = json.loads(text, object_pairs_hook=_no_key_twice)
    except (ValueError, RecursionError) as error:
        raise NotUnderstood(f"not JSON ({error})") from error
    return document


def _no_key_twice(pairs: list[tuple[str, object]]) -> dict[str, object]:
    made = dict(pairs)
    if len(made) != len(pairs):
        raise ValueError("a key stands in it twice")
    return made


def look_up(document: object, pointer: str) -> object:
    """What a JSON pointer leads to; raises `NotUnderstood`.

    Examples
    --------
    >>> look_up({"ch": [{"v": 12.5}]}, "/ch/0/v")
    12.5
    """
    at = document
    for part in pointer.removeprefix("/").split("/"):
        key = part.replace("~1", "/").replace("~0", "~")
        if isinstance(at, dict) and key in at:
            at = at[key]
        elif isinstance(at, list) and key.isdigit() and int(key) < len(at):
            at = at[int(key)]
        else:
            raise NotUnderstood(f"nothing at {pointer}")
    return at


@dataclass(frozen=True, slots=True)
class Columns:
    """An answer in columns.

    Parameters
    ----------
    separator
        One character; `SPACES` for any number of spaces.
    count
        How many columns there always are.
    places
        The column of each value, counted from 1.
    """

    separator: str
    count: int
    places: Mapping[str, int]
    writing: Writing

    @property
    def groups(self) -> frozenset[str]:
        return frozenset(self.places)

    def understand(self, text: str) -> LineValues:
        cells = split_columns(text, self.separator)
        if len(cells) != self.count:
            raise NotUnderstood(f"{len(cells)} columns where {self.count} were expected")
        numbers = {
            name: self.writing.number(name, cells[place - 1])
            for name, place in self.places.items()
            if name != STATUS
        }
        status = cells[self.places[STATUS] - 1] if STATUS in self.places else None
        return LineValues(numbers, status)


def split_columns(text: str, separator: str) -> list[str]:
    """The cells of one answer, without the spaces around; raises `NotUnderstood`."""
    if len(text) > LONGEST_OBJECT:
        raise NotUnderstood(f"{len(text)} characters are too many")
    if separator == SPACES:
        return text.split()
    try:
        (cells,) = csv.reader([text], delimiter=separator, skipinitialspace=True, strict=True)
    except (csv.Error, ValueError) as error:
        raise NotUnderstood(f"no columns ({error})") from error
    return [cell.strip() for cell in cells]


def is_cut_unseen(form: AnswerForm, text: str) -> bool:
    """Whether a part of an answer, cut short, would pass for a whole one."""
    for end in range(1, len(text)):
        try:
            form.understand(text[:end])
        except NotUnderstood:
            continue
        return True
    return False
