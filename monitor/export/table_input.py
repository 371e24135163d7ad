"""A file of any format that `export` writes, or another program's table, as samples and gaps.

Read are CSV, JSON Lines, Parquet and workbooks; every mistake is told with its line. See
`table_rows` for the columns.
"""

import csv
import json
import re
import zlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree.ElementTree import ParseError
from zipfile import BadZipFile

from drivers.base.inert import inert
from monitor.base.errors import BadTable
from monitor.export.table_rows import READ, Cells, Line, TableRows, columns_in, in_order, line_of
from monitor.export.table_source import ExtraNotThere

if TYPE_CHECKING:
    from pyarrow import Array

_NUMBERS = ("t_s", "volts", "amps", "celsius", "local")
_DECIMAL_COMMA = re.compile(r"^([^,.]*),([^,.]*)$")
HEADER_SEPARATORS = (";", "\t")
"""Of a table whose header they make yield t_s; else it is commas."""
_SPOILT = (
    *(BadZipFile, zlib.error, EOFError, RuntimeError, NotImplementedError),
    *(ParseError, ValueError, TypeError, AttributeError, LookupError, ArithmeticError),
)
"""What openpyxl, zipfile and the XML parser raise within a file that is spoilt."""


def read_table(path: Path) -> TableRows:
    """Read a table of readings, in constant memory; its ending says the format, CSV by default.

    Raises
    ------
    BadTable
        At once or while reading; see `read_csv`.
    ExtraNotThere
        The library that the format needs is not installed.
    """
    read = _READERS.get(path.suffix.lower())
    return read_csv(path) if read is None else TableRows(in_order(read(path)))


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
        return TableRows(in_order(_csv(_texts_of(source), str(source))))
    return TableRows(in_order(_csv(source, "the table")))


def _texts_of(path: Path) -> Iterator[str]:
    """The lines of a text file, with their ends."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            yield from file
    except OSError as error:
        raise BadTable(f"{path}: cannot be read ({error.strerror}); check its name") from error
    except UnicodeDecodeError as error:
        raise BadTable(f"{path}: is not UTF-8 text; save it as UTF-8") from error


def _csv(texts: Iterable[str], source: str) -> Iterator[tuple[str, Line]]:
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
            named: Cells = {
                column: cells[place] for column, place in columns.items() if place < len(cells)
            }
            if separator != ",":
                named = plain_decimal(named)
            yield where, line_of(named, where)
    except csv.Error as error:
        raise BadTable(
            f"{source}, line {table.line_num}: is not CSV ({error}); export the table again"
        ) from error


def _first_line(texts: Iterable[str]) -> tuple[str, Iterable[str]]:
    """The first line with text, and all lines again."""
    source = iter(texts)
    seen: list[str] = []
    for text in source:
        seen.append(text)
        if text.strip():
            break
    return (seen[-1] if seen else "", chain(seen, source))


def _separator(header: str) -> str:
    """The separator of the header's names; a comma unless only another one yields t_s."""
    return next((s for s in HEADER_SEPARATORS if "t_s" in _names(header.split(s))), ",")


def plain_decimal(cells: Cells) -> Cells:
    """The cells with decimal points in place of decimal commas."""
    return {
        column: _DECIMAL_COMMA.sub(r"\1.\2", cell) if column in _NUMBERS else cell
        for column, cell in cells.items()
    }


def header_names(header: str, separator: str) -> list[str]:
    """The names in a header's line."""
    return _names(next(csv.reader([header.strip()], delimiter=separator), []))


def _names(header: list[str]) -> list[str]:
    return [cell.strip().removeprefix("\ufeff").strip('"').casefold() for cell in header]


def _json_lines(path: Path) -> Iterator[tuple[str, Line]]:
    for number, text in enumerate(_texts_of(path), 1):
        if text.strip():
            where = f"{path}, line {number}"
            yield where, line_of(cells_of_json(text, where), where)


def cells_of_json(text: str, where: str) -> Cells:
    """The texts of one JSON object; raises `BadTable` where it is none."""
    try:
        # Numbers stay texts, so that no digit of a time is lost.
        cells = json.loads(text, parse_float=str, parse_int=str)
    except (ValueError, RecursionError) as error:
        raise BadTable(f"{where}: is not JSON ({error}); write one object a line") from error
    if not isinstance(cells, dict):
        raise BadTable(f"{where}: is not an object; write one object a line")
    columns_in(list(cells), where)
    return {name: cells[name] for name in READ if isinstance(cells.get(name), str)}


def _parquet(path: Path) -> Iterator[tuple[str, Line]]:
    try:
        import pyarrow as pa
        from pyarrow import parquet
    except ImportError as error:
        raise ExtraNotThere("pyarrow", "parquet") from error
    try:
        with parquet.ParquetFile(path) as file:
            names = list(columns_in(file.schema_arrow.names, str(path)))
            row = 0
            for batch in file.iter_batches(columns=names):
                columns = [_arrow_cells(batch.column(name)) for name in names]
                for entries in zip(*columns, strict=True):
                    row += 1
                    where = f"{path}, row {row}"
                    cells = dict(zip(names, entries, strict=True))
                    utc = cells.get("utc", "")
                    utc_ns = int(utc) if utc.lstrip("-").isdecimal() else None
                    yield where, line_of(cells, where, utc_ns)
    except OSError as error:
        raise BadTable(f"{path}: cannot be read ({_first_of(error)}); check its name") from error
    except pa.ArrowException as error:
        raise BadTable(f"{path}: is not Parquet ({_first_of(error)})") from error


def _arrow_cells(column: "Array") -> list[str]:
    """A column's cells; a time as whole nanoseconds since 1970."""
    import pyarrow as pa

    if pa.types.is_timestamp(column.type) and column.type.tz is not None:
        column = column.cast(pa.timestamp("ns", column.type.tz)).cast(pa.int64())
    return [_cell(entry) for entry in column.to_pylist()]


def _workbook(path: Path) -> Iterator[tuple[str, Line]]:
    try:
        from openpyxl import load_workbook
        from openpyxl.utils.exceptions import InvalidFileException
    except ImportError as error:
        raise ExtraNotThere("openpyxl", "xlsx") from error
    # Opened here: the library leaves a file open in which it finds something spoilt.
    try:
        file = path.open("rb")
    except OSError as error:
        raise BadTable(f"{path}: cannot be read ({error.strerror}); check its name") from error
    with file:
        try:
            book = load_workbook(file, read_only=True, data_only=True)
        except (InvalidFileException, OSError, *_SPOILT) as error:
            raise BadTable(f"{path}: is not a workbook ({_first_of(error)})") from error
        for sheet in book.worksheets:
            source = f"{path}, sheet {inert(sheet.title)!r}"
            rows = _unspoilt(sheet.iter_rows(values_only=True), source)
            header = [_cell(entry).strip().casefold() for entry in next(rows, ())]
            columns = columns_in(header, source)
            for number, row in enumerate(rows, 2):
                where = f"{source}, line {number}"
                cells = {
                    name: _cell(row[place]) for name, place in columns.items() if place < len(row)
                }
                if any(cells.values()):
                    yield where, line_of(cells, where)


def _unspoilt(rows: Iterator[Sequence[object]], source: str) -> Iterator[Sequence[object]]:
    """The library's rows; raises `BadTable` where it cannot read the file."""
    while True:
        try:
            row = next(rows)
        except StopIteration:
            return
        except (OSError, *_SPOILT) as error:
            raise BadTable(f"{source}: is damaged ({_first_of(error)}); export it again") from error
        yield row


def _cell(entry: object) -> str:
    """A cell's value as the text that a CSV file would hold."""
    if entry is None:
        return ""
    return repr(entry) if isinstance(entry, float) else str(entry)


def _first_of(error: Exception) -> str:
    """The first line of an error's text."""
    return inert(next(iter(str(error).splitlines()), ""))


_READERS: dict[str, Callable[[Path], Iterator[tuple[str, Line]]]] = {
    ".jsonl": _json_lines,
    ".parquet": _parquet,
    ".xlsx": _workbook,
}
