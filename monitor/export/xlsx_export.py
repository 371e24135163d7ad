"""A stored run in, an Office Open XML workbook out. Needs openpyxl."""

import re
from datetime import tzinfo
from pathlib import Path

from monitor.base.whole_file import whole_path
from monitor.export.clock_text import ClockText
from monitor.export.export_rows import Page, Rows, Tell, pages_of, quiet
from monitor.export.parquet_export import ExtraNotThere

COLUMNS = ("t_s", "utc", "local", "volts", "amps", "celsius", "mode", "quality", "reason")
ROWS_A_SHEET = 1_048_575
"""Under the header; a sheet has 2**20 rows (ECMA-376, part 1, as spreadsheets implement it)."""

_NOT_IN_XML = re.compile(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""XML 1.0, production 2."""

Cell = str | float | None


def export_xlsx(run: Rows, to: Path, *, zone: tzinfo | None = None, tell: Tell = quiet) -> int:
    """Write every due poll of a run as one row of a workbook; a long run goes on in further sheets.

    Numbers are numbers, with 16 digits; `utc` and `local` are ISO 8601 texts with their offset,
    since a spreadsheet's own times know none and count no leap in the autumn night.

    Parameters
    ----------
    to, zone, tell
        As in `export_csv`.

    Returns
    -------
    int
        The number of rows under the headers.

    Raises
    ------
    ExtraNotThere
        openpyxl is not installed.
    NotWritten
        The file cannot be written; an older one at its place is untouched.
    """
    try:
        from openpyxl import Workbook
    except ImportError as error:
        raise ExtraNotThere(
            "xlsx needs openpyxl; install it with: pip install 'bathvigil[xlsx]'"
        ) from error
    # Streams rows to a file of its own, so that memory stays small.
    book = Workbook(write_only=True)
    clock = ClockText(zone)
    written = 0
    sheet = None
    with whole_path(to) as part:
        for page in pages_of(run):
            for row in _rows(page, clock):
                if written % ROWS_A_SHEET == 0:
                    sheet = book.create_sheet(f"run {run.run} part {written // ROWS_A_SHEET + 1}")
                    sheet.append(COLUMNS)
                assert sheet is not None
                sheet.append(row)
                written += 1
            tell(len(page))
        if sheet is None:
            book.create_sheet(f"run {run.run}").append(COLUMNS)
        book.save(part)
    return written


def _rows(page: Page, clock: ClockText) -> list[tuple[Cell, ...]]:
    utc, local, offsets = clock.texts(page.moments_ns)
    reasons = [reason and _NOT_IN_XML.sub("\ufffd", reason) for reason in page.reasons]
    return [
        (t_ns / 1e9, *texts)
        for t_ns, *texts in zip(
            page.times_ns,
            utc,
            map(str.__add__, local, offsets),
            page.volts,
            page.amps,
            page.celsius,
            page.modes,
            page.qualities,
            reasons,
            strict=True,
        )
    ]
