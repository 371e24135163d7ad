"""A file of any format that `export` writes in, samples and gaps out, for `replay`."""

import json
import zlib
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree.ElementTree import ParseError
from zipfile import BadZipFile

from drivers.base.inert import inert
from monitor.base.errors import BadTable
from monitor.export.csv_input import read_csv
from monitor.export.parquet_export import ExtraNotThere
from monitor.export.table_rows import READ, Cells, Line, TableRows, columns_in, in_order, line_of

if TYPE_CHECKING:
    from pyarrow import Array


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


def _json_lines(path: Path) -> Iterator[tuple[str, Line]]:
    try:
        with path.open(encoding="utf-8-sig") as file:
            for number, text in enumerate(file, 1):
                if text.strip():
                    where = f"{path}, line {number}"
                    yield where, line_of(_cells_of_json(text, where), where)
    except OSError as error:
        raise BadTable(f"{path}: cannot be read ({error.strerror}); check its name") from error
    except UnicodeDecodeError as error:
        raise BadTable(f"{path}: is not UTF-8 text; export the run again") from error


def _cells_of_json(text: str, where: str) -> Cells:
    try:
        # Numbers stay texts, so that no digit of a time is lost.
        told = json.loads(text, parse_float=str, parse_int=str)
    except (ValueError, RecursionError) as error:
        raise BadTable(f"{where}: is not JSON ({error}); write one object a line") from error
    if not isinstance(told, dict):
        raise BadTable(f"{where}: is not an object; write one object a line")
    columns_in(list(told), where)
    return {name: told[name] for name in READ if isinstance(told.get(name), str)}


def _parquet(path: Path) -> Iterator[tuple[str, Line]]:
    try:
        import pyarrow as pa
        from pyarrow import parquet
    except ImportError as error:
        raise ExtraNotThere(
            "Parquet needs pyarrow; install it with: pip install 'bathvigil[parquet]'"
        ) from error
    try:
        with parquet.ParquetFile(path) as file:
            names = file.schema_arrow.names
            read = list(columns_in(names, str(path)))
            row = 0
            for batch in file.iter_batches(columns=read):
                columns = [_arrow_cells(batch.column(name)) for name in read]
                for entries in zip(*columns, strict=True):
                    row += 1
                    where = f"{path}, row {row}"
                    cells = dict(zip(read, entries, strict=True))
                    utc = cells.get("utc", "")
                    utc_ns = int(utc) if utc.lstrip("-").isdecimal() else None
                    yield where, line_of(cells, where, utc_ns)
    except OSError as error:
        raise BadTable(f"{path}: cannot be read ({_first_line(error)}); check its name") from error
    except pa.ArrowException as error:
        raise BadTable(f"{path}: is not Parquet ({_first_line(error)})") from error


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
        raise ExtraNotThere(
            "xlsx needs openpyxl; install it with: pip install 'bathvigil[xlsx]'"
        ) from error
    # Opened here: the library leaves a file open in which it finds something spoilt.
    try:
        file = path.open("rb")
    except OSError as error:
        raise BadTable(f"{path}: cannot be read ({error.strerror}); check its name") from error
    with file:
        try:
            book = load_workbook(file, read_only=True, data_only=True)
        except (InvalidFileException, OSError, *_SPOILT) as error:
            raise BadTable(f"{path}: is not a workbook ({_first_line(error)})") from error
        for sheet in book.worksheets:
            source = f"{path}, sheet {inert(sheet.title)!r}"
            rows = _unspoilt(sheet.iter_rows(values_only=True), source)
            header = [_cell(entry).strip().casefold() for entry in next(rows, ())]
            columns = columns_in(header, source)
            for number, row in enumerate(rows, 2):
                where = f"{source}, line {number}"
                cells = {name: _cell(row[at]) for name, at in columns.items() if at < len(row)}
                if any(cells.values()):
                    yield where, line_of(cells, where)


def _unspoilt(rows: Iterator[Sequence[object]], source: str) -> Iterator[Sequence[object]]:
    """The library's rows; where the file breaks under it, that is told instead."""
    while True:
        try:
            row = next(rows)
        except StopIteration:
            return
        except (OSError, *_SPOILT) as error:
            raise BadTable(f"{source}: is spoilt ({_first_line(error)}); export it anew") from error
        yield row


def _cell(entry: object) -> str:
    """An entry as the text that stands for it in a CSV file."""
    if entry is None:
        return ""
    return repr(entry) if isinstance(entry, float) else str(entry)


def _first_line(error: Exception) -> str:
    return inert(next(iter(str(error).splitlines()), ""))


_SPOILT = (
    *(BadZipFile, zlib.error, EOFError, RuntimeError, NotImplementedError),
    *(ParseError, ValueError, TypeError, AttributeError, LookupError, ArithmeticError),
)
"""What openpyxl, zipfile and the XML parser raise within a file that is spoilt."""

_READERS: dict[str, Callable[[Path], Iterator[tuple[str, Line]]]] = {
    ".jsonl": _json_lines,
    ".parquet": _parquet,
    ".xlsx": _workbook,
}
