"""A look at an export before it is written: its first lines, its rows and its size.

The export itself writes some of the rows, to a folder that is removed afterwards.
"""

import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from monitor.export.table_source import Rows, Tell, quiet
from monitor.store.mapping import Row
from monitor.store.stored_run import StoredRun

LINES = 5
"""Rows that are shown under the header."""
SAMPLED = 4000
"""Rows that are written to estimate the size: half from the beginning, half from the middle."""

Export = Callable[[Rows, Path, Tell], int]


@dataclass(frozen=True, slots=True)
class Preview:
    """What an export would be.

    Parameters
    ----------
    lines
        The header and the first rows; of a Parquet file or a workbook as columns with tabs.
    rows
        All rows under the header.
    size_bytes
        Of the whole file; exact for a short run, else estimated from some rows.
    """

    lines: tuple[str, ...]
    rows: int
    size_bytes: int


def preview_of(run: StoredRun, export: Export, ending: str) -> Preview:
    """Look at an export without writing it.

    Parameters
    ----------
    ending
        Of the file, such as ".csv".

    Raises
    ------
    BathvigilError
        As the export itself; see `export_csv`.
    """
    summary = run.summary()
    rows = summary.samples + summary.missing
    with tempfile.TemporaryDirectory(prefix="bathvigil-") as folder:
        looked_at, bare = Path(folder) / f"rows{ending}", Path(folder) / f"bare{ending}"
        sampled = export(_SomeRows(run, rows, SAMPLED), looked_at, quiet)
        size_bytes = looked_at.stat().st_size
        if sampled < rows:
            export(_SomeRows(run, rows, 0), bare, quiet)
            bare_bytes = bare.stat().st_size
            size_bytes = bare_bytes + (size_bytes - bare_bytes) * rows // sampled
        lines = tuple(islice(_SHOWN.get(ending, _texts)(looked_at), 1 + LINES))
    return Preview(lines, rows, size_bytes)


class _SomeRows:
    """Stands in for a run that has only some of its rows."""

    def __init__(self, run: StoredRun, rows: int, count: int) -> None:
        self.run = run.run
        self._stored = run
        self._parts = [(-1, count)]
        if rows > count:
            self._parts = [(-1, count // 2), (rows // 2, count // 2)]

    def pages(self, after_seq: int = -1) -> Iterator[list[Row]]:
        """See `StoredRun.pages`."""
        for first, wanted in self._parts:
            left = wanted
            for page in self._stored.pages(max(first, after_seq)) if wanted else ():
                yield page[:left]
                left -= len(page)
                if left <= 0:
                    break


def _texts(file: Path) -> Iterator[str]:
    with file.open(encoding="utf-8-sig") as lines:
        for line in lines:
            yield line.rstrip("\r\n")


def _of_parquet(file: Path) -> Iterator[str]:
    from pyarrow import parquet

    with parquet.ParquetFile(file) as opened:
        yield "\t".join(opened.schema_arrow.names)
        for batch in opened.iter_batches(LINES):
            for row in batch.to_pylist():
                yield _tabbed(tuple(row.values()))


def _of_workbook(file: Path) -> Iterator[str]:
    from openpyxl import load_workbook

    book = load_workbook(file, read_only=True)
    try:
        for row in book.worksheets[0].iter_rows(values_only=True):
            yield _tabbed(row)
    finally:
        book.close()


def _tabbed(cells: tuple[object, ...]) -> str:
    return "\t".join("" if cell is None else str(cell) for cell in cells)


_SHOWN = {".parquet": _of_parquet, ".xlsx": _of_workbook}
