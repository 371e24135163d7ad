"""Samples and gaps from a table's lines, with a gap for every row that is not there.

Needed columns: t_s, volts, amps. Read if present: celsius, and mode, quality, reason, utc (or local
with utc_offset) as `export` writes them. Others are passed over, and so is what is not one of our
words in mode, quality and the times, since another program's columns may have these names.
"""

import math
from collections import deque
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal, InvalidOperation
from itertools import chain, islice, pairwise
from statistics import median

from drivers.base.inert import inert
from drivers.reading import Mode
from monitor.base.errors import BadTable
from monitor.export.safe_text import plain_text
from monitor.model.sample import HOLE_POLLS, Gap, Quality, Sample

NEEDED = ("t_s", "volts", "amps")
READ = (*NEEDED, "celsius", "mode", "quality", "reason", "utc", "local", "utc_offset")
Cells = Mapping[str, str]
"""One line's texts, by the names in READ; what is not there is empty."""
HOLE_REASON = "hole in the file"
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
class Line:
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


class RowMaker:
    """Lines in, rows out: numbered anew, with a gap for every row that is not there."""

    def __init__(self) -> None:
        self.steps: deque[int] = deque(maxlen=STEPS_KEPT)
        """Nanoseconds between the newest lines."""
        self._seq = 0
        self._last: Line | None = None
        self._last_utc_ns = 0

    @property
    def step_s(self) -> float | None:
        """Usual seconds between two lines; None with fewer than two."""
        return median(self.steps) / 1e9 if self.steps else None

    def rows(self, line: Line) -> Iterator[Sample | Gap]:
        """The gaps before a line, and its own row last."""
        last = self._last
        step_ns = 0 if last is None else line.t_ns - last.t_ns
        utc_ns = line.t_ns if last is None else self._last_utc_ns + step_ns
        if line.utc_ns is not None:
            utc_ns = line.utc_ns
        if last is not None:
            for after_ns in self._hole(step_ns):
                share = after_ns / step_ns
                gap_utc_ns = self._last_utc_ns + round((utc_ns - self._last_utc_ns) * share)
                yield Gap(self._seq, last.t_ns + after_ns, gap_utc_ns, HOLE_REASON)
                self._seq += 1
            self.steps.append(step_ns)
        yield _row(line, self._seq, utc_ns)
        self._seq += 1
        self._last, self._last_utc_ns = line, utc_ns

    def _hole(self, step_ns: int) -> Iterator[int]:
        """Where rows are missing in a step between two rows; nothing where it is no hole."""
        if step_ns <= SHORTEST_HOLE_NS or not self.steps:
            return
        usual_ns = max(round(median(self.steps)), SHORTEST_USUAL_NS)
        if step_ns <= HOLE_POLLS * usual_ns:
            return
        after_ns = usual_ns
        while after_ns <= step_ns - usual_ns / 2:
            yield after_ns
            after_ns += max(usual_ns, after_ns // HOLE_GRAIN)


class TableRows(Iterator[Sample | Gap]):
    """The rows of a file, one at a time; made by the readers of each format.

    Parameters
    ----------
    lines
        What is in the file, in order.
    """

    def __init__(self, lines: Iterator[Line]) -> None:
        first = list(islice(lines, STEPS_KEPT + 1))
        maker = RowMaker()
        maker.steps.extend(after.t_ns - before.t_ns for before, after in pairwise(first))
        self.step_s = maker.step_s
        """Usual seconds between two rows, from the file's first ones; None with fewer than two."""
        self._rows = (row for line in chain(first, lines) for row in maker.rows(line))

    def __next__(self) -> Sample | Gap:
        return next(self._rows)


def line_of(cells: Cells, where: str, utc_ns: int | None = None) -> Line:
    """The values of one line.

    Parameters
    ----------
    where
        For messages, such as "run.csv, line 7".
    utc_ns
        The moment, where the table tells it more finely than a text.

    Raises
    ------
    BadTable
        A cell is not a number; the text names the line and the cure.
    """
    quality = _QUALITIES.get(cells.get("quality", "").strip(), Quality.GOOD)
    return Line(
        t_ns=_time(cells.get("t_s", ""), where),
        utc_ns=_moment(cells) if utc_ns is None else utc_ns,
        volts=_number(cells, "volts", where),
        amps=_number(cells, "amps", where),
        celsius=_number(cells, "celsius", where),
        mode=_MODES.get(cells.get("mode", "").strip(), Mode.UNKNOWN),
        quality=quality,
        reason=plain_text(cells.get("reason", "")) or None,
    )


def _row(line: Line, seq: int, utc_ns: int) -> Sample | Gap:
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


def _number(cells: Cells, column: str, where: str) -> float | None:
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


def in_order(lines: Iterable[tuple[str, Line]]) -> Iterator[Line]:
    """The lines, as long as their time does not go back.

    Raises
    ------
    BadTable
        It does.
    """
    last_ns: int | None = None
    for where, line in lines:
        if last_ns is not None and line.t_ns < last_ns:
            raise BadTable(
                f"{where}: t_s goes back from {last_ns / 1e9:.10g} to {line.t_ns / 1e9:.10g}; "
                "sort the rows by time, and keep one run in one file"
            )
        last_ns = line.t_ns
        yield line


def _moment(cells: Cells) -> int | None:
    utc_ns = _utc(cells.get("utc", ""))
    if utc_ns is None and cells.get("utc_offset"):
        utc_ns = _utc(f"{cells.get('local', '').strip()}{cells['utc_offset'].strip()}")
    return utc_ns


def columns_in(names: list[str], source: str) -> dict[str, int]:
    """Where the columns stand that are read.

    Raises
    ------
    BadTable
        One that is needed is not there, or one is there twice.
    """
    for column in READ:
        if names.count(column) > 1:
            raise BadTable(f"{source}, line 1: column {column} occurs twice; remove one")
    lacking = [column for column in NEEDED if column not in names]
    if lacking:
        present = ", ".join(filter(None, names)) or "nothing"
        raise BadTable(
            f"{source}, line 1: no column {', '.join(lacking)}; the first line must name t_s, "
            f"volts and amps, separated by commas (it names: {inert(present, 200)})"
        )
    return {column: names.index(column) for column in READ if column in names}


def _utc(cell: str) -> int | None:
    """Nanoseconds since 1970 of a moment that names its distance from UTC."""
    try:
        moment = datetime.fromisoformat(cell.strip())
    except ValueError:
        return None
    if moment.tzinfo is None:
        return None
    return (moment - _EPOCH) // timedelta(microseconds=1) * 1000
