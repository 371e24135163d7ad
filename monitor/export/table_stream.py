"""A table that comes line by line, from a logger that is still writing it.

Each line stands for itself: one that cannot be read is told and left out, and the next one counts.
"""

import csv
from collections.abc import Callable, Iterator
from typing import BinaryIO, NamedTuple

from monitor.base.errors import BadTable
from monitor.export.table_input import HEADER_SEPARATORS, cells_of_json, header_names, plain_decimal
from monitor.export.table_rows import Cells, Line, RowMaker, columns_in, line_of
from monitor.model.sample import Gap, Sample

LONGEST_LINE = 65_536
"""Bytes; what is longer is no line of readings."""


class StreamedRow(NamedTuple):
    """One row, and whether it is its line's own: gaps stand before it for rows that are missing."""

    row: Sample | Gap
    is_own: bool


class TableStream:
    """Reads a table as it comes: CSV, or JSON with one object a line.

    Parameters
    ----------
    source
        Bytes, UTF-8.
    complain
        Called with one sentence for each line that is left out.

    Examples
    --------
    >>> from io import BytesIO
    >>> text = b"t_s,volts,amps\\n0,7,5.1\\n1,7,five\\n2,7,5.2\\n"
    >>> stream = TableStream(BytesIO(text), print)
    >>> [(one.row.t_s, one.row.amps) for one in stream.rows()]
    line 3 is left out: amps is 'five', not a number; write it with a decimal point, or leave the \
cell empty where there is no value
    [(0.0, 5.1), (2.0, 5.2)]
    """

    def __init__(self, source: BinaryIO, complain: Callable[[str], None]) -> None:
        self._source = source
        self._complain = complain
        self._maker = RowMaker()
        self._number = 0

    @property
    def step_s(self) -> float | None:
        """Usual seconds between two rows so far; None with fewer than two."""
        return self._maker.step_s

    def rows(self) -> Iterator[StreamedRow]:
        """The rows, each before the next line is read.

        Raises
        ------
        BadTable
            The first line does not name the columns that are needed.
        """
        last_ns: int | None = None
        for line in self._lines():
            if last_ns is not None and line.t_ns < last_ns:
                self._leave_out(
                    f"t_s goes back from {last_ns / 1e9:.10g} to {line.t_ns / 1e9:.10g}"
                )
                continue
            last_ns = line.t_ns
            for row in self._maker.rows(line):
                yield StreamedRow(row, row.t_ns == line.t_ns)

    def _lines(self) -> Iterator[Line]:
        texts = self._texts()
        first = next((text for text in texts if text.strip()), "")
        if first.lstrip("\ufeff").lstrip().startswith("{"):
            read = self._json_reader()
            yield from self._read(first.lstrip("\ufeff"), read)
        else:
            read = self._csv_reader(first)
        for text in texts:
            if text.strip():
                yield from self._read(text, read)

    def _read(self, text: str, read: Callable[[str], Cells]) -> Iterator[Line]:
        """The line's values; nothing where it is broken."""
        try:
            cells = read(text)
            if any(value.strip() for value in cells.values()):
                yield line_of(cells, "")
        except BadTable as error:
            self._leave_out(str(error).removeprefix(": "))
        except csv.Error as error:
            self._leave_out(f"is not CSV ({error})")

    def _json_reader(self) -> Callable[[str], Cells]:
        return lambda text: cells_of_json(text, "")

    def _csv_reader(self, header: str) -> Callable[[str], Cells]:
        separator = next((s for s in HEADER_SEPARATORS if "t_s" in header_names(header, s)), ",")
        names = header_names(header, separator)
        columns = columns_in(names, "standard input")

        def read(text: str) -> Cells:
            cells = next(csv.reader([text.rstrip("\r\n")], delimiter=separator, strict=True), [])
            if any(cells[len(names) :]):
                raise BadTable(f"has {len(cells)} cells under {len(names)} columns")
            named = {name: cells[place] for name, place in columns.items() if place < len(cells)}
            return named if separator == "," else plain_decimal(named)

        return read

    def _texts(self) -> Iterator[str]:
        """The lines with text that can be read, as they come."""
        source = self._source
        while block := source.readline(LONGEST_LINE):
            self._number += 1
            if len(block) == LONGEST_LINE and not block.endswith(b"\n"):
                while block and not block.endswith(b"\n"):
                    block = source.readline(LONGEST_LINE)
                self._leave_out(f"is longer than {LONGEST_LINE} bytes")
                continue
            try:
                yield block.decode("utf-8")
            except UnicodeDecodeError:
                self._leave_out("is not UTF-8 text")

    def _leave_out(self, why: str) -> None:
        self._complain(f"line {self._number} is left out: {why}")
