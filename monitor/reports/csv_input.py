"""A CSV file in, samples and gaps out, for `replay`; every mistake is told with its line.

Needed columns: t_s, volts, amps. Read if present: celsius, and mode, quality, reason and utc as
`export` writes them. Others are passed over, and so is what is not one of our words in mode,
quality and utc, since another program's columns may have these names.
"""

import csv
import math
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal, InvalidOperation
from itertools import chain, islice, pairwise
from pathlib import Path
from statistics import median

from drivers.reading import Mode
from monitor.errors import BadTable
from monitor.reports.safe_text import plain_text
from monitor.sample import Gap, Quality, Sample

NEEDED = ("t_s", "volts", "amps")
READ = (*NEEDED, "celsius", "mode", "quality", "reason", "utc")
HOLE_REASON = "hole in the file"
HOLE_IN_STEPS = 3.5
"""A step this many times the usual one is a hole: three polls and more are not there."""
SHORTEST_HOLE_NS = 1_000_000_000
"""No step below a second is a hole: files are written in bursts."""
SHORTEST_USUAL_NS = 10_000_000
STEPS_KEPT = 31
"""The usual step is the median of so many; of the file's first ones to begin with."""
HOLE_GRAIN = 1000
"""Gaps in a hole lie one usual step apart, and later a thousandth of the hole so far."""

MOST_DIGITS = 10
"""Of t_s before the point: 300 years, or seconds since 1970."""

_MODES = {mode.word: mode for mode in Mode}
_QUALITIES = {quality.word: quality for quality in Quality}
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class _Line:
    """One line of the file, understood. `utc_ns` is None where it does not say."""

    t_ns: int
    utc_ns: int | None
    volts: float | None
    amps: float | None
    celsius: float | None
    mode: Mode
    quality: Quality
    reason: str | None

    @property
    def is_gap(self) -> bool:
        return self.quality is Quality.MISSING or (self.volts is None and self.amps is None)


class CsvRows(Iterator[Sample | Gap]):
    """The rows of a file, one at a time; made by `read_csv`.

    Parameters
    ----------
    lines
        What is in the file, in order.
    """

    def __init__(self, lines: Iterator[_Line]) -> None:
        first = list(islice(lines, STEPS_KEPT + 1))
        self._steps = deque(
            (after.t_ns - before.t_ns for before, after in pairwise(first)), maxlen=STEPS_KEPT
        )
        self.step_s: float | None = median(self._steps) / 1e9 if self._steps else None
        """Usual seconds between two rows, from the file's first ones; None with fewer than two."""
        self._rows = self._with_holes(chain(first, lines))

    def __next__(self) -> Sample | Gap:
        return next(self._rows)

    def _with_holes(self, lines: Iterable[_Line]) -> Iterator[Sample | Gap]:
        seq = 0
        last_t_ns, last_utc_ns = 0, 0
        for number, line in enumerate(lines):
            step_ns = line.t_ns - last_t_ns if number else 0
            utc_ns = last_utc_ns + step_ns if number else line.t_ns
            if line.utc_ns is not None:
                utc_ns = line.utc_ns
            for after_ns in self._hole(step_ns):
                share = after_ns / step_ns
                gap_utc_ns = last_utc_ns + round((utc_ns - last_utc_ns) * share)
                yield Gap(seq, last_t_ns + after_ns, gap_utc_ns, HOLE_REASON)
                seq += 1
            if number:
                self._steps.append(step_ns)
            yield _row(line, seq, utc_ns)
            seq += 1
            last_t_ns, last_utc_ns = line.t_ns, utc_ns

    def _hole(self, step_ns: int) -> Iterator[int]:
        """Where rows are missing in a step between two rows; nothing where it is no hole."""
        if step_ns <= SHORTEST_HOLE_NS:
            return
        usual_ns = max(round(median(self._steps)), SHORTEST_USUAL_NS)
        if step_ns <= HOLE_IN_STEPS * usual_ns:
            return
        after_ns = usual_ns
        while after_ns <= step_ns - usual_ns / 2:
            yield after_ns
            after_ns += max(usual_ns, after_ns // HOLE_GRAIN)


def read_csv(source: Path | Iterable[str]) -> CsvRows:
    """Read a table of readings, in constant memory.

    A row without volts and amps, or of quality "missing", is a `Gap`. Where `t_s` leaps, a `Gap`
    stands for each row that is not there (in a long hole more thinly towards its end). Rows are
    numbered anew.

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
        return CsvRows(_lines_of_file(source))
    return CsvRows(_lines(source, "the table"))


def _lines_of_file(path: Path) -> Iterator[_Line]:
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            yield from _lines(file, str(path))
    except OSError as error:
        raise BadTable(f"{path}: cannot be read ({error.strerror}); check its name") from error
    except UnicodeDecodeError as error:
        raise BadTable(f"{path}: is not UTF-8 text; save it as CSV in UTF-8") from error


def _lines(texts: Iterable[str], source: str) -> Iterator[_Line]:
    table = csv.reader(texts, strict=True)
    try:
        header = next((cells for cells in table if any(cells)), [])
        columns = _columns(header, source)
        last_ns: int | None = None
        for cells in table:
            if not any(cell.strip() for cell in cells):
                continue
            where = f"{source}, line {table.line_num}"
            if any(cells[len(header) :]):
                raise BadTable(
                    f"{where}: has {len(cells)} cells under {len(header)} columns; "
                    "write decimal points, not commas, and quotes around text with commas"
                )
            line = _line(
                {column: cells[at] for column, at in columns.items() if at < len(cells)}, where
            )
            if last_ns is not None and line.t_ns < last_ns:
                raise BadTable(
                    f"{where}: t_s goes back from {last_ns / 1e9:.10g} to {line.t_ns / 1e9:.10g}; "
                    "sort the rows by time, and keep one run in one file"
                )
            last_ns = line.t_ns
            yield line
    except csv.Error as error:
        raise BadTable(
            f"{source}, line {table.line_num}: is not CSV ({error}); export the table again"
        ) from error


def _columns(header: list[str], name: str) -> dict[str, int]:
    """Where the columns stand that are read."""
    names = [cell.strip().removeprefix("\ufeff").strip('"').casefold() for cell in header]
    for column in READ:
        if names.count(column) > 1:
            raise BadTable(f"{name}, line 1: column {column} stands there twice; leave one out")
    lacking = [column for column in NEEDED if column not in names]
    if lacking:
        found = ", ".join(filter(None, names)) or "nothing"
        raise BadTable(
            f"{name}, line 1: no column {', '.join(lacking)}; the first line must name t_s, volts "
            f"and amps, separated by commas (it names: {found:.200})"
        )
    return {column: names.index(column) for column in READ if column in names}


def _line(cells: dict[str, str], where: str) -> _Line:
    quality = _QUALITIES.get(cells.get("quality", "").strip(), Quality.GOOD)
    return _Line(
        t_ns=_time(cells.get("t_s", ""), where),
        utc_ns=_utc(cells.get("utc", "")),
        volts=_number(cells, "volts", where),
        amps=_number(cells, "amps", where),
        celsius=_number(cells, "celsius", where),
        mode=_MODES.get(cells.get("mode", "").strip(), Mode.UNKNOWN),
        quality=quality,
        reason=plain_text(cells.get("reason", "")) or None,
    )


def _row(line: _Line, seq: int, utc_ns: int) -> Sample | Gap:
    if line.is_gap:
        return Gap(seq, line.t_ns, utc_ns, line.reason or "no value in the file")
    return Sample(
        seq=seq,
        t_ns=line.t_ns,
        utc_ns=utc_ns,
        latency_us=0,
        volts=line.volts,
        amps=line.amps,
        celsius=line.celsius,
        mode=line.mode,
        quality=line.quality,
        reason=line.reason,
    )


def _number(cells: dict[str, str], column: str, where: str) -> float | None:
    text = cells.get(column, "").strip()
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or "_" in text:
        raise BadTable(
            f"{where}: {column} is {text[:40]!r}, not a number; write it with a decimal point, "
            "or leave the cell empty where there is no value"
        )
    return value


def _time(cell: str, where: str) -> int:
    """Nanoseconds, exactly."""
    text = cell.strip()
    try:
        seconds = Decimal(text)
    except InvalidOperation:
        seconds = Decimal("nan")
    if not seconds.is_finite() or seconds.adjusted() >= MOST_DIGITS or "_" in text:
        raise BadTable(
            f"{where}: t_s is {text[:40]!r}, not a time; every row needs its seconds since the "
            "beginning, as a number"
        )
    return int((seconds * 1_000_000_000).to_integral_value())


def _utc(cell: str) -> int | None:
    """Nanoseconds since 1970 of a moment that names its distance from UTC."""
    try:
        moment = datetime.fromisoformat(cell.strip())
    except ValueError:
        return None
    if moment.tzinfo is None:
        return None
    return (moment - _EPOCH) // timedelta(microseconds=1) * 1000
