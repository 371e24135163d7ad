"""A CSV file in, samples and gaps out, for `replay`; every mistake is told with its line.

Read are `export`'s files for machines and for spreadsheets, and other programs' with such columns:
see `table_rows`.
"""

import csv
import re
from collections.abc import Iterable, Iterator
from itertools import chain
from pathlib import Path

from monitor.base.errors import BadTable
from monitor.export.table_rows import Line, TableRows, columns_in, in_order, line_of

_NUMBERS = ("t_s", "volts", "amps", "celsius", "local")
_DECIMAL_COMMA = re.compile(r"^([^,.]*),([^,.]*)$")
_OTHER_SEPARATORS = (";", "\t")


def read_csv(source: Path | Iterable[str]) -> TableRows:
    """Read a table of readings, in constant memory.

    A row without volts and amps, or of quality "missing", is a `Gap`. Where `t_s` leaps, a `Gap`
    stands for each row that is not there (in a long hole more thinly towards its end). Rows are
    numbered anew.

    Cells are separated by commas, semicolons or tabs, as the first line shows; where it is not
    commas, numbers may have decimal commas.

    Parameters
    ----------
    source
        The file, UTF-8 with or without a mark at its beginning, or its lines.

    Raises
    ------
    BadTable
        At once or while reading: no such file, a column is missing, a cell is not a number,
        `t_s` goes back. The text names the line and the cure.

    Examples
    --------
    >>> rows = read_csv(["t_s,volts,amps", "0.0,9.0,4.5", "0.2,,"])
    >>> next(rows).amps
    4.5
    >>> next(rows)
    Gap(seq=1, t_ns=200000000, utc_ns=200000000, reason='no value in the file', detail='')
    """
    if isinstance(source, Path):
        return TableRows(_lines_of_file(source))
    return TableRows(_lines(source, "the table"))


def _lines_of_file(path: Path) -> Iterator[Line]:
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            yield from _lines(file, str(path))
    except OSError as error:
        raise BadTable(f"{path}: cannot be read ({error.strerror}); check its name") from error
    except UnicodeDecodeError as error:
        raise BadTable(f"{path}: is not UTF-8 text; save it as CSV in UTF-8") from error


def _lines(texts: Iterable[str], source: str) -> Iterator[Line]:
    return in_order(_places_and_lines(texts, source))


def _places_and_lines(texts: Iterable[str], source: str) -> Iterator[tuple[str, Line]]:
    first, texts = _first_line(texts)
    separator = _separator(first)
    table = csv.reader(texts, delimiter=separator, strict=True)
    try:
        header = next((cells for cells in table if any(cells)), [])
        columns = columns_in(_names(header), source)
        for cells in table:
            if not any(cell.strip() for cell in cells):
                continue
            where = f"{source}, line {table.line_num}"
            if any(cells[len(header) :]):
                raise BadTable(
                    f"{where}: has {len(cells)} cells under {len(header)} columns; "
                    "write decimal points, not commas, and quotes around text with commas"
                )
            named = {column: cells[at] for column, at in columns.items() if at < len(cells)}
            if separator != ",":
                named |= {
                    column: _DECIMAL_COMMA.sub(r"\1.\2", named[column])
                    for column in _NUMBERS
                    if column in named
                }
            yield where, line_of(named, where)
    except csv.Error as error:
        raise BadTable(
            f"{source}, line {table.line_num}: is not CSV ({error}); export the table again"
        ) from error


def _first_line(texts: Iterable[str]) -> tuple[str, Iterable[str]]:
    """The first line that says something, and all lines again."""
    source = iter(texts)
    seen: list[str] = []
    for text in source:
        seen.append(text)
        if text.strip():
            break
    return (seen[-1] if seen else "", chain(seen, source))


def _separator(header: str) -> str:
    """What stands between the header's names; a comma unless only something else gives t_s."""
    for separator in _OTHER_SEPARATORS:
        if "t_s" in _names(header.split(separator)):
            return separator
    return ","


def _names(header: list[str]) -> list[str]:
    return [cell.strip().removeprefix("\ufeff").strip('"').casefold() for cell in header]
