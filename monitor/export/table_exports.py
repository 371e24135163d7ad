"""A run as a file: CSV for programs or for the shop's spreadsheet, JSON Lines, Parquet, a workbook.

Every due poll is a row, answered or not. All exports take the run's rows from `table_source`, call
`tell` with the rows that they have written, give the number of rows back, and raise `NotWritten`
where the file cannot be written; an older file at its place is then untouched.
"""

import csv
import json
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import tzinfo
from operator import add
from pathlib import Path

from monitor.base.errors import WrongUse
from monitor.base.whole_file import NotWritten, whole_file, whole_path
from monitor.export.table_source import (
    COLUMNS,
    Clock,
    ExtraNotThere,
    Page,
    Rows,
    Tell,
    Values,
    pages_of,
    quiet,
    seconds_texts,
)

SPREADSHEET_COLUMNS = (
    "t_s", "local", "utc_offset", "volts", "amps", "celsius", "mode", "quality", "reason",
)  # fmt: skip
SEPARATORS = (";", ",", "\t")
DECIMALS = (".", ",")
BYTE_ORDER_MARK = "\ufeff"
"""Spreadsheets know UTF-8 by it."""
GROUP_ROWS = 65_536
"""Rows of a Parquet row group: bounds memory."""
ROWS_A_SHEET = 1_048_575
"""Under the header; a sheet has 2**20 rows (ECMA-376, part 1, as spreadsheets implement it)."""

_JSON_LINE = "{" + ",".join(f'"{name}":%s' for name in COLUMNS) + "}\n"
_JSON_TEXT = json.JSONEncoder(ensure_ascii=False).encode
_INFINITE = {"inf": "1e999", "-inf": "-1e999"}
"""JSON knows no infinity, but numbers that every reader takes for one (RFC 8259, section 6)."""
_NOT_IN_XML = re.compile(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""XML 1.0, production 2."""

Cells = Sequence[Iterable[object]]


@dataclass(frozen=True, slots=True)
class Marks:
    """What stands between a spreadsheet's cells, and before a number's decimals.

    Raises
    ------
    WrongUse
        Both are the same, so that nobody could tell them apart.
    """

    separator: str = ";"
    decimal: str = ","

    def __post_init__(self) -> None:
        if self.separator == self.decimal:
            raise WrongUse(
                f"{self.separator!r} cannot be both separator and decimal mark; choose others "
                "with --separator and --decimal"
            )


def export_csv(run: Rows, to: Path, *, zone: tzinfo | None = None, tell: Tell = quiet) -> int:
    """Write CSV for programs.

    `t_s` has nine decimals and the values as many as they need, so that reading them gives the
    stored numbers again; `utc` and `local` are ISO 8601 with milliseconds. An empty cell is a
    missing value; a poll without an answer has quality "missing" and its reason. `zone` is that of
    the local times, None for this machine's.

    References
    ----------
    RFC 4180, section 2: comma, CRLF, quotes doubled.
    """
    clock = Clock(zone)
    return _write_csv(pages_of(run, tell), to, COLUMNS, lambda page: _columns(page, clock))


def export_spreadsheet(
    run: Rows, to: Path, marks: Marks, *, zone: tzinfo | None = None, tell: Tell = quiet
) -> int:
    """Write CSV that a spreadsheet takes as numbers and times.

    `local` is "2026-09-21 16:13:20,123" with the decimal mark asked for (ISO 8601-1:2019, 5.3.1.4
    allows either), and `utc_offset` what it is ahead of UTC, so that no hour stands there twice.
    """
    clock = Clock(zone)

    def marked(texts: Iterable[str]) -> list[str]:
        return [text.replace(".", marks.decimal) for text in texts]

    def numbers(values: Values) -> Iterable[object]:
        if marks.decimal == ".":
            return values
        return ["" if v is None else repr(v).replace(".", marks.decimal) for v in values]

    def columns(page: Page) -> Cells:
        _, local, offsets = clock.texts(page.moments_ns)
        return (
            marked(seconds_texts(page.times_ns)),
            marked(text.replace("T", " ") for text in local),
            offsets,
            *(numbers(page.volts), numbers(page.amps), numbers(page.celsius)),
            *(page.modes, page.qualities, page.reasons),
        )

    return _write_csv(
        pages_of(run, tell), to, SPREADSHEET_COLUMNS, columns, marks.separator, BYTE_ORDER_MARK
    )


def export_json_lines(
    run: Rows, to: Path, *, zone: tzinfo | None = None, tell: Tell = quiet
) -> int:
    """Write one JSON object a line, with the CSV's names and values; what is missing is null."""
    clock, written = Clock(zone), 0
    with whole_file(to) as file:
        for page in pages_of(run, tell):
            t_s, *columns = _columns(page, clock)
            cells = zip(t_s, *(map(_json_cell, column) for column in columns), strict=True)
            file.writelines(map(_JSON_LINE.__mod__, cells))
            written += len(page)
    return written


def export_parquet(run: Rows, to: Path, *, tell: Tell = quiet) -> int:
    """Write Parquet; `utc` to the nanosecond, missing values as nulls.

    Raises
    ------
    ExtraNotThere
        pyarrow is not installed.
    """
    try:
        import pyarrow as pa
        from pyarrow import parquet
    except ImportError as error:
        raise ExtraNotThere("pyarrow", "parquet") from error
    word, number = pa.dictionary(pa.int8(), pa.string()), pa.float64()
    schema = pa.schema(
        [
            pa.field("seq", pa.int64(), nullable=False),
            pa.field("t_s", number, nullable=False),
            pa.field("utc", pa.timestamp("ns", "UTC"), nullable=False),
            *[(name, number) for name in ("volts", "amps", "celsius")],
            ("mode", word),
            pa.field("quality", word, nullable=False),
            ("reason", pa.string()),
        ]
    )

    def batch(page: Page) -> object:
        seconds = [t_ns / 1e9 for t_ns in page.times_ns]
        columns = (
            *(page.seqs, seconds, page.moments_ns, page.volts, page.amps, page.celsius),
            *(page.modes, page.qualities, page.reasons),
        )
        typed = zip(columns, schema.types, strict=True)
        return pa.record_batch([pa.array(list(c), kind) for c, kind in typed], schema=schema)

    written, waiting, rows = 0, [], 0
    try:
        with whole_path(to) as part, parquet.ParquetWriter(part, schema) as file:
            for page in pages_of(run, tell):
                waiting.append(batch(page))
                rows += len(page)
                if rows >= GROUP_ROWS:
                    file.write_table(pa.Table.from_batches(waiting))
                    waiting, rows = [], 0
                written += len(page)
            if waiting:
                file.write_table(pa.Table.from_batches(waiting))
    except pa.ArrowException as error:
        raise NotWritten(f"{to}: cannot be written ({error})") from error
    return written


def export_xlsx(run: Rows, to: Path, *, zone: tzinfo | None = None, tell: Tell = quiet) -> int:
    """Write an Office Open XML workbook; a long run goes on in further sheets.

    Numbers are numbers, with 16 digits; `utc` and `local` are ISO 8601 texts with their offset,
    since a spreadsheet's own times know none and count no leap in the autumn night.

    Raises
    ------
    ExtraNotThere
        openpyxl is not installed.
    """
    try:
        from openpyxl import Workbook
    except ImportError as error:
        raise ExtraNotThere("openpyxl", "xlsx") from error
    # Streams rows to a file of its own, so that memory stays small.
    book, clock, written = Workbook(write_only=True), Clock(zone), 0
    sheet = None
    with whole_path(to) as part:
        for page in pages_of(run, tell):
            _, *columns, _ = _columns(page, clock)
            seconds = (t_ns / 1e9 for t_ns in page.times_ns)
            reasons = (text and _NOT_IN_XML.sub("\ufffd", text) for text in page.reasons)
            for row in zip(seconds, *columns, reasons, strict=True):
                if written % ROWS_A_SHEET == 0:
                    sheet = book.create_sheet(f"run {run.run} part {written // ROWS_A_SHEET + 1}")
                    sheet.append(COLUMNS)
                assert sheet is not None
                sheet.append(row)
                written += 1
        if sheet is None:
            book.create_sheet(f"run {run.run}").append(COLUMNS)
        book.save(part)
    return written


def _columns(page: Page, clock: Clock) -> tuple[Iterable[object], ...]:
    """The cells of COLUMNS; `t_s` as exact texts."""
    utc, local, offsets = clock.texts(page.moments_ns)
    return (
        *(seconds_texts(page.times_ns), utc, map(add, local, offsets)),
        *(page.volts, page.amps, page.celsius, page.modes, page.qualities, page.reasons),
    )


def _write_csv(
    pages: Iterator[Page],
    to: Path,
    names: Sequence[str],
    columns: Callable[[Page], Cells],
    separator: str = ",",
    begin: str = "",
) -> int:
    written = 0
    with whole_file(to) as file:
        file.write(begin)
        lines = csv.writer(file, delimiter=separator, lineterminator="\r\n")
        lines.writerow(names)
        for page in pages:
            lines.writerows(zip(*columns(page), strict=True))
            written += len(page)
    return written


def _json_cell(cell: object) -> str:
    if isinstance(cell, str):
        return _JSON_TEXT(cell)
    text = "null" if cell is None else repr(cell)
    return _INFINITE.get(text, text)
