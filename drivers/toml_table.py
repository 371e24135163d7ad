"""One table of a description file in, checked values out; whatever nobody asked for is refused.

A key is valid when the code asks for it: `refuse_the_rest` names every other one, with the
nearest valid name, so that a misspelt key is never silently without effect.
"""

import math
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import cast

from drivers.base.inert import inert
from drivers.base.nearest import nearest, nearest_hint
from drivers.errors import BadDescription

_LARGEST_FILE = 65536


class TomlTable:
    """A table, asked key by key.

    Parameters
    ----------
    where
        The file, and the table's name within it, for messages.
    entries
        What `tomllib` made of it.
    """

    def __init__(self, where: str, entries: Mapping[str, object], prefix: str = "") -> None:
        self.where = where
        self.prefix = prefix
        self._entries = entries
        self._asked: set[str] = set()

    def __contains__(self, key: str) -> bool:
        self._asked.add(key)
        return key in self._entries

    def text(self, key: str, default: str | None = None) -> str:
        """A text that is not empty; without a default the key must be there."""
        value = self._value(key, default)
        if not isinstance(value, str) or not value.strip():
            raise self.wrong(key, "must be a text that is not empty")
        return value

    def choice(self, key: str, valid: Sequence[str], default: str | None = None) -> str:
        """One of a few words."""
        value = self._value(key, default)
        if not isinstance(value, str) or value not in valid:
            hint = nearest_hint(value, valid) if isinstance(value, str) else ", ".join(valid)
            raise self.wrong(key, f"is {inert(repr(value))}; {hint}")
        return value

    def number(
        self, key: str, default: float | None = None, least: float = -math.inf, most: float = 1e12
    ) -> float:
        """A finite number within bounds, whole or not."""
        value = self._value(key, default)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.wrong(key, f"is {inert(repr(value))}; it must be a number")
        if not math.isfinite(value) or not least <= value <= most:
            raise self.wrong(key, f"is {value}; it must be {_bounds(least, most)}")
        return float(value)

    def optional_number(
        self, key: str, least: float = -math.inf, most: float = 1e12
    ) -> float | None:
        """As `number`, or None where the key is not there."""
        return self.number(key, least=least, most=most) if key in self else None

    def yes_or_no(self, key: str, default: bool) -> bool:
        """True or false."""
        value = self._value(key, default)
        if not isinstance(value, bool):
            raise self.wrong(key, f"is {inert(repr(value))}; it must be true or false")
        return value

    def whole_number(self, key: str, default: int | None, least: int, most: int) -> int:
        """A whole number within bounds."""
        value = self._value(key, default)
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            bounds = f"a whole number from {least} to {most}"
            raise self.wrong(key, f"is {inert(repr(value))}; it must be {bounds}")
        return value

    def whole_numbers(self, key: str, least: int, most: int) -> tuple[int, ...]:
        """A list of different whole numbers within bounds; empty where the key is not there."""
        value = self._value(key, [])
        if not isinstance(value, list):
            raise self.wrong(key, "must be a list of whole numbers, such as [1, 4]")
        for entry in value:
            if isinstance(entry, bool) or not isinstance(entry, int) or not least <= entry <= most:
                bounds = f"whole numbers from {least} to {most}"
                raise self.wrong(key, f"holds {inert(repr(entry))}; it must hold {bounds}")
        if len(set(value)) != len(value):
            raise self.wrong(key, "holds the same number twice")
        return tuple(value)

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts; empty where the key is not there."""
        value = self._value(key, [])
        if not isinstance(value, list) or not all(isinstance(entry, str) for entry in value):
            raise self.wrong(key, "must be a list of texts")
        return tuple(value)

    def table(self, key: str) -> "TomlTable":
        """A table within this one; without it an empty one, so that its defaults hold."""
        value = self._value(key, {})
        if not isinstance(value, dict):
            raise self.wrong(key, f"must be a table, written [{self.prefix}{key}]")
        return TomlTable(self.where, value, f"{self.prefix}{key}.")

    def tables(self, key: str) -> tuple["TomlTable", ...]:
        """A list of tables; empty where the key is not there."""
        value = self._value(key, [])
        if not isinstance(value, list) or not all(isinstance(entry, dict) for entry in value):
            raise self.wrong(key, f"must be tables, each written [[{self.prefix}{key}]]")
        return tuple(
            TomlTable(self.where, entry, f"{self.prefix}{key}[{number}].")
            for number, entry in enumerate(value, start=1)
        )

    def refuse_the_rest(self) -> None:
        """Refuse every key that nobody asked for.

        Raises
        ------
        BadDescription
        """
        for key in self._entries:
            if key not in self._asked:
                shown = inert(f"{self.prefix}{key}")
                hint = nearest_hint(key, self._asked)
                raise BadDescription(f"{self.where}: unknown key {shown!r}; {hint}")

    def wrong(self, key: str, what: str) -> BadDescription:
        """The error for the value of `key`, such as "... must be a number"."""
        return BadDescription(f"{self.where}: {self.prefix}{key} {what}")

    def _value(self, key: str, default: object) -> object:
        self._asked.add(key)
        if key in self._entries:
            return self._entries[key]
        if default is None:
            found = nearest(key, self._entries.keys() - self._asked)
            instead = "" if found is None else f"; is {inert(found)!r} meant for it?"
            raise BadDescription(f"{self.where}: {self.prefix}{key} is missing{instead}")
        return default


def read_toml(where: str, path: Path) -> TomlTable:
    """The top table of a file.

    Raises
    ------
    BadDescription
        Where the file cannot be read, is too large, or is not TOML.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise BadDescription(f"{where}: cannot be read: {error.strerror}") from error
    if len(data) > _LARGEST_FILE:
        raise BadDescription(f"{where}: {len(data)} bytes is too large for a description")
    try:
        entries = tomllib.loads(data.decode("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadDescription(f"{where}: not a TOML file: {inert(str(error))}") from error
    return TomlTable(where, cast(dict[str, object], entries))


def _bounds(least: float, most: float) -> str:
    return f"at most {most:g}" if least == -math.inf else f"from {least:g} to {most:g}"
