"""One table of a TOML file in, one frozen dataclass out, or one line that says what is wrong.

The dataclass is the form: its field names are the keys, its annotations the kinds of value, and
`Annotated[float, Between(low, high)]` or `Literal[...]` what a value may be.
"""

import dataclasses
import difflib
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import UnionType
from typing import Annotated, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

Filled = TypeVar("Filled")


class FormError(Exception):
    """A table that cannot be used; the message is one line and names the cure."""


@dataclass(frozen=True, slots=True)
class Between:
    """The lowest and the highest value that a field takes, both allowed."""

    low: float
    high: float


def nearest(wrong: str, known: Iterable[str]) -> str:
    """The cure for a wrong name: the nearest known one, or else all of them.

    Examples
    --------
    >>> nearest("quite-strip", ["quiet-strip", "sudden-short"])
    'did you mean quiet-strip?'
    >>> nearest("x", ["quiet-strip", "sudden-short"])
    'known are quiet-strip, sudden-short'
    """
    names = sorted(known)
    close = difflib.get_close_matches(wrong.lower(), names, n=1, cutoff=0.6)
    return f"did you mean {close[0]}?" if close else f"known are {', '.join(names)}"


def fill_in(kind: type[Filled], table: Mapping[str, object], where: str) -> Filled:
    """Make one `kind` of a table.

    Parameters
    ----------
    kind
        A dataclass; a field without a default must be in the table.
    where
        The table's name for messages, such as "[bath]".

    Raises
    ------
    FormError
        For an unknown key, a missing one, and a value of the wrong kind or out of its range.
    """
    assert dataclasses.is_dataclass(kind)
    hints = get_type_hints(kind, include_extras=True)
    for key in table:
        if key not in hints:
            raise FormError(f"{where}: there is no {key!r}; {nearest(key, hints)}")
    values: dict[str, object] = {}
    for form_field in dataclasses.fields(kind):
        name = form_field.name
        if name in table:
            values[name] = _value(hints[name], table[name], f"{where} {name}")
        elif (
            form_field.default is dataclasses.MISSING
            and form_field.default_factory is dataclasses.MISSING
        ):
            raise FormError(f"{where}: {name} is missing")
    return kind(**values)


def _value(hint: object, value: object, where: str) -> object:
    origin = get_origin(hint)
    if origin in (Union, UnionType):  # "x or None": TOML has no None, so the key is left out
        hint = next(part for part in get_args(hint) if part is not type(None))
        origin = get_origin(hint)
    if origin is Literal:
        words = [str(word) for word in get_args(hint)]
        if value not in words:
            raise FormError(f"{where}: {value!r} is not possible; {nearest(str(value), words)}")
        return value
    bounds: Between | None = None
    if origin is Annotated:
        hint, bounds = get_args(hint)
    if hint is float or hint is int:
        return _number(hint, bounds, value, where)
    if not isinstance(hint, type) or not isinstance(value, hint):
        word = "true or false" if hint is bool else "text"
        raise FormError(f"{where}: {value!r} should be {word}")
    return value


def _number(hint: object, bounds: Between | None, value: object, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise FormError(f"{where}: {value!r} should be a number")
    if hint is int and not isinstance(value, int):
        raise FormError(f"{where}: {value!r} should be a whole number")
    if bounds is not None and not bounds.low <= value <= bounds.high:
        raise FormError(f"{where}: {value!r} should be from {bounds.low:g} to {bounds.high:g}")
    return value if hint is int else float(value)
