"""A stored run in, a CSV file for machines out: RFC 4180, decimal point, UTC beside local time."""

from datetime import tzinfo
from operator import add
from pathlib import Path

from monitor.base.whole_file import whole_file
from monitor.export.clock_text import ClockText, seconds_texts
from monitor.export.csv_lines import LINE_END, csv_lines, number_texts, quoted_texts, word_texts
from monitor.export.export_rows import Rows, Tell, pages_of, quiet

COLUMNS = ("t_s", "utc", "local", "volts", "amps", "celsius", "mode", "quality", "reason")


def export_csv(run: Rows, to: Path, *, zone: tzinfo | None = None, tell: Tell = quiet) -> int:
    """Write every due poll of a run, answered or not, as one row of a CSV file.

    `t_s` has nine digits behind the point and the values as many as they need, so that reading
    them gives the stored numbers again; `utc` and `local` are ISO 8601 with milliseconds. An
    empty cell is a missing value; a poll without an answer has quality "missing" and its reason.

    Parameters
    ----------
    to
        The file; it is replaced when the new one is complete.
    zone
        Of the local times; None for this machine's.
    tell
        Told of the rows as they are written.

    Returns
    -------
    int
        The number of rows under the header.

    Raises
    ------
    NotWritten
        The file cannot be written; an older one at its place is untouched.

    References
    ----------
    RFC 4180, section 2: comma, CRLF, quotes doubled.
    """
    written = 0
    clock = ClockText(zone)
    with whole_file(to) as file:
        file.write(",".join(COLUMNS) + LINE_END)
        for page in pages_of(run):
            utc, local, offsets = clock.texts(page.moments_ns)
            file.write(
                csv_lines(
                    (
                        seconds_texts(page.times_ns),
                        utc,
                        map(add, local, offsets),
                        number_texts(page.volts),
                        number_texts(page.amps),
                        number_texts(page.celsius),
                        word_texts(page.modes),
                        page.qualities,
                        quoted_texts(page.reasons),
                    )
                )
            )
            written += len(page)
            tell(len(page))
    return written
