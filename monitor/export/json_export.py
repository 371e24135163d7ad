"""A stored run in, a file of JSON Lines out: one object for every due poll."""

import json
from collections.abc import Iterable
from datetime import tzinfo
from operator import add
from pathlib import Path

from monitor.base.whole_file import whole_file
from monitor.export.clock_text import ClockText, seconds_texts
from monitor.export.csv_export import COLUMNS
from monitor.export.export_rows import Rows, Tell, Values, pages_of, quiet

_LINE = ",".join(f'"{name}":%s' for name in COLUMNS)
_INFINITE = {"inf": "1e999", "-inf": "-1e999"}
"""JSON knows no infinity, but numbers that every reader takes for one (RFC 8259, section 6)."""


def export_json_lines(
    run: Rows, to: Path, *, zone: tzinfo | None = None, tell: Tell = quiet
) -> int:
    """Write every due poll of a run as one line, with the keys of the CSV's columns.

    Numbers are numbers with all their digits; what is missing is null.

    Parameters
    ----------
    to, zone, tell
        As in `export_csv`.

    Returns
    -------
    int
        The number of lines.

    Raises
    ------
    NotWritten
        The file cannot be written; an older one at its place is untouched.
    """
    written = 0
    clock = ClockText(zone)
    line = f"{{{_LINE}}}\n"
    with whole_file(to) as file:
        for page in pages_of(run):
            utc, local, offsets = clock.texts(page.moments_ns)
            file.writelines(
                map(
                    line.__mod__,
                    zip(
                        seconds_texts(page.times_ns),
                        _words(utc),
                        _words(map(add, local, offsets)),
                        _numbers(page.volts),
                        _numbers(page.amps),
                        _numbers(page.celsius),
                        _words(page.modes),
                        _words(page.qualities),
                        _texts(page.reasons),
                        strict=True,
                    ),
                )
            )
            written += len(page)
            tell(len(page))
    return written


def _numbers(values: Values) -> list[str]:
    texts = ["null" if value is None else repr(value) for value in values]
    if "inf" in texts or "-inf" in texts:
        texts = [_INFINITE.get(text, text) for text in texts]
    return texts


def _words(words: Iterable[str | None]) -> list[str]:
    """Our own words, with nothing in them that JSON escapes."""
    return ["null" if word is None else f'"{word}"' for word in words]


def _texts(texts: Iterable[str | None]) -> list[str]:
    return ["null" if text is None else json.dumps(text, ensure_ascii=False) for text in texts]
