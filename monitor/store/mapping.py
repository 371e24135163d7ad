"""Values as rows of a table: one column for each field of a dataclass or named tuple."""

import json
from collections.abc import Callable, Collection, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import partial
from operator import attrgetter
from types import NoneType
from typing import (
    Any,
    Generic,
    NamedTuple,
    TypeAlias,
    TypeVar,
    get_args,
    get_origin,
    get_type_hints,
)

Cell: TypeAlias = str | float | None
Row: TypeAlias = tuple[Any, ...]  # as sqlite3 types it

T = TypeVar("T")


class _Codec(NamedTuple):
    """How the values of one column become cells, and cells values; None: they are the same."""

    encode: Callable[[Any], Any] | None = None
    decode: Callable[[Any], Any] | None = None


class Table(Generic[T]):
    """How the values of one class stand in one table.

    A field that is a value of several fields stands as these fields, an enum as its value, a bool
    as 0 or 1, and a tuple of values as a JSON list of lists. The tables are STRICT, so a cell has
    its column's type.

    Parameters
    ----------
    name
        Of the table.
    kind
        The class, a dataclass or a named tuple.
    renamed
        Columns that do not have the name of their field, by the field's name.
    decimals
        To how many decimals a column's numbers are rounded.
    blank
        Columns in which None stands as "".
    words
        Members of enums that do not stand as their value.

    Examples
    --------
    >>> from monitor.model.event import Status
    >>> table = Table("status", Status)
    >>> table.columns
    'name, utc_ns, text, is_well'
    >>> table.cells(Status("sound", 5, "plays", True))
    ('sound', 5, 'plays', 1)
    >>> table.value(("sound", 5, "plays", None)).is_well is None
    True
    """

    def __init__(
        self,
        name: str,
        kind: type[T],
        *,
        renamed: Mapping[str, str] | None = None,
        decimals: Mapping[str, int] | None = None,
        blank: Collection[str] = (),
        words: Mapping[Enum, str] | None = None,
    ) -> None:
        self.name = name
        self._kind: Callable[..., T] = kind
        self._parts: list[tuple[int, int, Callable[..., object]]] = []
        paths: list[str] = []
        hints: list[Any] = []
        for field, hint in get_type_hints(kind).items():
            if _is_value(hint):
                inner = get_type_hints(hint)
                self._parts.insert(0, (len(paths), len(paths) + len(inner), hint))
                paths += [f"{field}.{name}" for name in inner]
                hints += inner.values()
            else:
                paths.append(field)
                hints.append(hint)
        names = [path.rpartition(".")[2] for path in paths]
        self.names = tuple((renamed or {}).get(name, name) for name in names)
        self.columns = ", ".join(self.names)
        self._get: Callable[[T], tuple[Any, ...]] = attrgetter(*paths)
        codecs = [
            _codec(hint, (decimals or {}).get(column), column in blank, words or {})
            for column, hint in zip(self.names, hints, strict=True)
        ]
        self._encoders = [
            (place, codec.encode) for place, codec in enumerate(codecs) if codec.encode
        ]
        self._decoders = [
            (place, codec.decode) for place, codec in enumerate(codecs) if codec.decode
        ]

    def select(self, condition: str) -> str:
        """The statement that reads rows for `value`."""
        return f"SELECT {self.columns} FROM {self.name} {condition}"

    def insert(self, before: str = "", verb: str = "INSERT") -> str:
        """The statement that adds a row: the columns named in `before`, then those of `cells`."""
        columns = ", ".join(filter(None, (before, self.columns)))
        return f"{verb} INTO {self.name} ({columns}) VALUES ({places(columns)})"

    def cells(self, value: T) -> tuple[Cell, ...]:
        """A value as the cells of `columns`."""
        cells = list(self._get(value))
        for place, encode in self._encoders:
            cells[place] = encode(cells[place])
        return tuple(cells)

    def value(self, cells: Row) -> T:
        """The value that stands in the cells of `columns`.

        Raises
        ------
        ValueError
            A code that nobody knows, or JSON that is none: the file is damaged.
        """
        values = list(cells)
        for place, decode in self._decoders:
            values[place] = decode(values[place])
        # From the last to the first, so that the places of the others stay.
        for first, end, kind in self._parts:
            values[first:end] = [kind(*values[first:end])]
        return self._kind(*values)


def places(columns: str) -> str:
    """As many question marks as there are columns."""
    return ", ".join("?" * (columns.count(",") + 1))


def _is_value(hint: Any) -> bool:
    return isinstance(hint, type) and (is_dataclass(hint) or hasattr(hint, "_fields"))


def _codec(hint: Any, decimals: int | None, is_blank: bool, words: Mapping[Enum, str]) -> _Codec:
    is_optional = NoneType in get_args(hint)
    kind = get_args(hint)[0] if is_optional else hint
    if decimals is not None:
        return _Codec(encode=partial(_rounded, decimals))
    if get_origin(kind) is tuple:
        return _Codec(_as_json, partial(_from_json, get_args(kind)[0]))
    encode: Callable[[Any], Any]
    if kind is bool:
        encode = int
    elif isinstance(kind, type) and issubclass(kind, Enum):
        encode = attrgetter("value")
        own = {member: word for member, word in words.items() if isinstance(member, kind)}
        if own:
            by_word = {word: member for member, word in own.items()}
            return _Codec(
                lambda value: own.get(value, value.value),
                lambda cell: by_word.get(cell) or kind(cell),
            )
    else:
        return _Codec()
    if not is_optional:
        return _Codec(encode, kind)
    nothing = "" if is_blank else None
    return _Codec(
        lambda value: nothing if value is None else encode(value),
        lambda cell: None if cell == nothing else kind(cell),
    )


def _rounded(decimals: int, number: float | None) -> float | None:
    return None if number is None else round(number, decimals)


def _as_json(values: tuple[Any, ...]) -> str:
    lists = [[getattr(value, field.name) for field in fields(value)] for value in values]
    return json.dumps(lists, separators=(",", ":"), allow_nan=False)


def _from_json(kind: Callable[..., object], text: str) -> tuple[object, ...]:
    try:
        return tuple(kind(*cells) for cells in json.loads(text))
    except TypeError as error:
        raise ValueError(f"a list of values that is none ({error})") from error
