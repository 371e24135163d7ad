"""Reads the simulators' TOML files into frozen dataclasses; a mistake is one line with its cure.

The dataclass is the form of a file: its field names are the keys, its annotations the kinds of
value, `Annotated[float, Between(low, high)]` or `Literal[...]` what a value may be. A field that is
a dataclass is a table of that name. A field `events: tuple[Event, ...]` is any number of tables
`[[event]]`. What no annotation says, `__post_init__` checks; it raises `FormError`.
"""

import dataclasses
import difflib
import math
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import UnionType
from typing import Annotated, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

Filled = TypeVar("Filled")


class FormError(Exception):
    """A file or a table that cannot be used; the message is one line and names the cure."""


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


def names_in(folder: Path) -> list[str]:
    """The names of the files of one kind that come with the simulators."""
    return sorted(path.stem for path in folder.glob("*.toml"))


def load_form(kind: type[Filled], what: str, name: str, folder: Path | None = None) -> Filled:
    """Read one file.

    Parameters
    ----------
    kind
        The form; its field `name`, if any, gets the file's name without its ending.
    what
        What the file describes, for messages, such as "scene".
    name
        Of a file in `folder`, or the path of a TOML file of the user's.

    Raises
    ------
    FormError
        With one line that names what is wrong, where, and the nearest valid name.
    """
    path = Path(name)
    if folder is not None:
        known = names_in(folder)
        if name in known:
            path = folder / f"{name}.toml"
        elif path.suffix != ".toml" and not path.is_file():
            raise FormError(f"there is no {what} {name!r}; {nearest(name, known)}")
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise FormError(f"cannot read the {what} {name}: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise FormError(f"{name} is not a text file in UTF-8") from error
    return parse_form(kind, what, text, path.stem)


def parse_form(kind: type[Filled], what: str, text: str, name: str) -> Filled:
    """Read the text of one file; raises as `load_form` does."""
    try:
        return fill_in(kind, tomllib.loads(text), "at the top", name=name)
    except tomllib.TOMLDecodeError as error:
        raise FormError(f"{what} {name}: not TOML: {error}") from error
    except FormError as error:
        raise FormError(f"{what} {name}: {error}") from error


def fill_in(kind: type[Filled], table: Mapping[str, object], where: str, **given: object) -> Filled:
    """Make one `kind` of a table.

    Parameters
    ----------
    kind
        A dataclass; a field without a default must be in the table.
    where
        The table's name for messages, such as "[bath]".
    given
        Values that do not stand in the table; for fields that there are not they are passed over.

    Raises
    ------
    FormError
        For an unknown key, a missing one, and a value of the wrong kind or out of its range.
    """
    assert dataclasses.is_dataclass(kind)
    hints = get_type_hints(kind, include_extras=True)
    values = {name: value for name, value in given.items() if name in hints}
    fields = [each for each in dataclasses.fields(kind) if each.name not in values]
    keys = {_key(each.name, hints[each.name]): each for each in fields}
    for key in table:
        if key not in keys:
            raise FormError(f"{where}: there is no {key!r}; {nearest(key, keys)}")
    for key, each in keys.items():
        hint = hints[each.name]
        if key in table:
            values[each.name] = _value(hint, table[key], key, where)
        elif each.default is each.default_factory is dataclasses.MISSING:
            is_table = dataclasses.is_dataclass(hint)
            raise FormError(f"[{key}] is missing" if is_table else f"{where}: {key} is missing")
    try:
        return kind(**values)
    except FormError as error:
        raise FormError(f"{where}: {error}") from error


def _key(name: str, hint: object) -> str:
    """The key of a field: what there may be several of is written one at a time."""
    return name.removesuffix("s") if get_origin(hint) is tuple else name


def _value(hint: object, value: object, key: str, above: str) -> object:
    where = f"{above} {key}"
    origin = get_origin(hint)
    if origin in (Union, UnionType):  # "x or None": TOML has no None, so the key is left out
        hint = next(part for part in get_args(hint) if part is not type(None))
        origin = get_origin(hint)
    if origin is tuple:
        return _tables(get_args(hint)[0], value, key)
    if isinstance(hint, type) and dataclasses.is_dataclass(hint):
        if not isinstance(value, dict):
            raise FormError(f"{key}: write it as a table [{key}]")
        return fill_in(hint, value, f"[{key}]")
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


def _tables(kind: type[object], value: object, key: str) -> tuple[object, ...]:
    if not isinstance(value, list) or not all(isinstance(table, dict) for table in value):
        raise FormError(f"{key}: write each one as [[{key}]]")
    return tuple(
        fill_in(kind, table, f"[[{key}]] number {number}") for number, table in enumerate(value, 1)
    )


def _number(hint: object, bounds: Between | None, value: object, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise FormError(f"{where}: {value!r} should be a number")
    if hint is int and not isinstance(value, int):
        raise FormError(f"{where}: {value!r} should be a whole number")
    if bounds is not None and not bounds.low <= value <= bounds.high:
        raise FormError(f"{where}: {value!r} should be from {bounds.low:g} to {bounds.high:g}")
    return value if hint is int else float(value)
