"""A stored run in, a CSV file for the shop's spreadsheet out: its separator and decimal mark."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import tzinfo
from pathlib import Path

from monitor.base.errors import WrongUse
from monitor.base.whole_file import whole_file
from monitor.export.clock_text import ClockText, seconds_texts
from monitor.export.csv_lines import LINE_END, csv_lines, number_texts, quoted_texts, word_texts
from monitor.export.export_rows import Rows, Tell, pages_of, quiet

COLUMNS = ("t_s", "local", "utc_offset", "volts", "amps", "celsius", "mode", "quality", "reason")
SEPARATORS = (";", ",", "\t")
DECIMALS = (".", ",")


@dataclass(frozen=True, slots=True)
class Marks:
    """What stands between cells, and before a number's decimals.

    Raises
    ------
    WrongUse
        The two are the same, so that nobody could tell them apart.
    """

    separator: str = ";"
    decimal: str = ","

    def __post_init__(self) -> None:
        if self.separator == self.decimal:
            raise WrongUse(
                f"{self.separator!r} cannot be both separator and decimal mark; choose others "
                "with --separator and --decimal"
            )


def export_spreadsheet(
    run: Rows,
    to: Path,
    marks: Marks,
    *,
    zone: tzinfo | None = None,
    tell: Tell = quiet,
) -> int:
    """Write every due poll of a run as one row that a spreadsheet takes as numbers and times.

    UTF-8 with a mark at its beginning, which spreadsheets know it by. `local` is "2026-09-21
    16:13:20,123" with the decimal mark asked for (ISO 8601-1:2019, 5.3.1.4 allows either), and
    `utc_offset` what it is ahead of UTC, so that no hour stands there twice.

    Parameters
    ----------
    to, zone, tell
        As in `export_csv`.

    Returns
    -------
    int
        The number of rows under the header.

    Raises
    ------
    NotWritten
        The file cannot be written; an older one at its place is untouched.
    """
    written = 0
    clock = ClockText(zone)
    with whole_file(to) as file:
        file.write("\ufeff" + marks.separator.join(COLUMNS) + LINE_END)
        for page in pages_of(run):
            _, local, offsets = clock.texts(page.moments_ns)
            file.write(
                csv_lines(
                    (
                        _marked(seconds_texts(page.times_ns), marks.decimal),
                        _marked((text.replace("T", " ") for text in local), marks.decimal),
                        offsets,
                        number_texts(page.volts, marks.decimal),
                        number_texts(page.amps, marks.decimal),
                        number_texts(page.celsius, marks.decimal),
                        word_texts(page.modes),
                        page.qualities,
                        quoted_texts(page.reasons, marks.separator),
                    ),
                    marks.separator,
                )
            )
            written += len(page)
            tell(len(page))
    return written


def _marked(texts: Iterable[str], decimal: str) -> list[str]:
    return [text.replace(".", decimal) for text in texts]
