"""A stored run in, a CSV file for machines out: RFC 4180, decimal point, UTC beside local time."""

import csv
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path

from monitor.reports.safe_text import safe_text
from monitor.reports.whole_file import whole_file
from monitor.sample import Gap, Quality, Sample
from monitor.store.stored_run import StoredRun

COLUMNS = ("t_s", "utc", "local", "volts", "amps", "celsius", "mode", "quality", "reason")

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_SECOND_NS = 1_000_000_000

Cells = tuple[str | float | None, ...]


def export_csv(run: StoredRun, to: Path, *, zone: tzinfo | None = None) -> int:
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
    with whole_file(to) as file:
        table = csv.writer(file, lineterminator="\r\n")
        table.writerow(COLUMNS)
        for cells in _rows(run, zone):
            table.writerow(cells)
            written += 1
    return written


def _rows(run: StoredRun, zone: tzinfo | None) -> Iterator[Cells]:
    clock = _ClockText(zone)
    missing = Quality.MISSING.word
    for row in run.rows():
        t_s, (utc, local) = seconds_text(row.t_ns), clock.texts(row.utc_ns)
        if isinstance(row, Gap):
            yield (t_s, utc, local, None, None, None, None, missing, safe_text(row.reason))
        else:
            yield (t_s, utc, local, *_values(row))


def _values(sample: Sample) -> Cells:
    reason = None if sample.reason is None else safe_text(sample.reason)
    return (
        sample.volts,
        sample.amps,
        sample.celsius,
        sample.mode.word,
        sample.quality.word,
        reason,
    )


def seconds_text(ns: int) -> str:
    """Nanoseconds as seconds, exactly.

    Examples
    --------
    >>> seconds_text(12_345_678_901), seconds_text(-1)
    ('12.345678901', '-0.000000001')
    """
    whole, rest = divmod(abs(ns), _SECOND_NS)
    return f"{'-' if ns < 0 else ''}{whole}.{rest:09d}"


class _ClockText:
    """Makes the texts of a moment; what rows of one second share is made once."""

    def __init__(self, zone: tzinfo | None) -> None:
        self._zone = zone
        self._second = -1
        self._utc = ""
        self._local = ("", "")

    def texts(self, utc_ns: int) -> tuple[str, str]:
        """UTC and local time of a moment, its part of a millisecond cut off."""
        second, rest = divmod(utc_ns, _SECOND_NS)
        if second != self._second or not self._utc:
            self._make(second)
        ms = f".{rest // 1_000_000:03d}"
        return f"{self._utc}{ms}Z", f"{self._local[0]}{ms}{self._local[1]}"

    def _make(self, second: int) -> None:
        utc = _EPOCH + timedelta(seconds=second)
        local = utc.astimezone(self._zone).isoformat(timespec="seconds")
        self._second = second
        self._utc = utc.isoformat(timespec="seconds").removesuffix("+00:00")
        # The date and time take 19 characters, the offset from UTC the rest.
        self._local = (local[:19], local[19:])
