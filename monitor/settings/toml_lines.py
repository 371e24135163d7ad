"""The line of every key and table of a TOML file, which tomllib does not tell."""

import tomllib
from dataclasses import dataclass

Path = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Statement:
    """One key or table header: its whole path, and its line counted from 1."""

    path: Path
    line: int
    is_table: bool = False


def statements(text: str) -> list[Statement]:
    """Every key and table header in order; what cannot be read is passed over.

    Examples
    --------
    >>> statements('[supplies."bench-1"]\\nlimit_amps = 10')
    [Statement(path=('supplies', 'bench-1'), line=1, is_table=True), \
Statement(path=('supplies', 'bench-1', 'limit_amps'), line=2, is_table=False)]
    """
    known: list[Statement] = []
    table: Path = ()
    lines = text.splitlines()
    number = 0
    while number < len(lines):
        line, began = lines[number].strip(), number + 1
        number += 1
        if not line or line.startswith("#"):
            continue
        if line.startswith("["):
            header = _path_of(line)
            if header:
                table = header
                known.append(Statement(header, began, True))
            continue
        key = _path_of(_key_part(line) + " = 0")
        if not key:
            continue
        known.append(Statement((*table, *key), began))
        # A value over several lines: what stands in it is no key.
        last = _end_of_value(lines, began - 1)
        number = max(number, last + 1)
    return known


def line_of(known: list[Statement], path: Path) -> int | None:
    """The first line of a path, or of the nearest one that holds it; None where none does."""
    for length in range(len(path), 0, -1):
        for statement in known:
            if statement.path[:length] == path[:length]:
                return statement.line
    return None


def written_twice(known: list[Statement]) -> tuple[Statement, Statement] | None:
    """The first key or table that stands twice, with its first place; None where none does."""
    seen: dict[tuple[Path, bool], Statement] = {}
    for statement in known:
        first = seen.setdefault((statement.path, statement.is_table), statement)
        if first is not statement:
            return first, statement
    return None


def _path_of(statement: str) -> Path:
    """The path of the one key or header in a statement; empty where it cannot be read."""
    try:
        place: object = tomllib.loads(statement)
    except tomllib.TOMLDecodeError:
        return ()
    path: Path = ()
    while isinstance(place, dict) and len(place) == 1:
        ((name, place),) = place.items()
        path = (*path, name)
    return path


def _key_part(line: str) -> str:
    """What stands before the equals sign that is not inside quotes."""
    quote = ""
    for place, letter in enumerate(line):
        if quote:
            quote = "" if letter == quote else quote
        elif letter in "\"'":
            quote = letter
        elif letter == "=":
            return line[:place]
    return line


def _end_of_value(lines: list[str], first: int) -> int:
    """The index of a value's last line; its first where the value never ends."""
    statement = ""
    for last in range(first, len(lines)):
        statement += lines[last] + "\n"
        try:
            tomllib.loads(statement)
        except tomllib.TOMLDecodeError:
            continue
        return last
    return first
