"""Stretches of the store in, batches of lines out; each batch knows how far it moves the cursor."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice

from monitor.forward.points import Point, RunPoints
from monitor.model.estimate import Estimate
from monitor.model.sample import Gap, Sample
from monitor.store.forward_ledger import ForwardLedger
from monitor.store.forward_rows import NO_END, Kind, Piece, Stretch
from monitor.store.reader import Store
from monitor.store.stored_run import StoredRun

BATCH = 1000
"""Lines of one request at the most."""
DISORDER_S = 30.0
"""No answer is later than its deadline, which is far less than this."""


@dataclass(slots=True)
class Load:
    """A batch on its way: its lines, and the pieces of stretches that they are."""

    lines: list[str] = field(default_factory=list)
    pieces: list[Piece] = field(default_factory=list)
    left_out: int = 0

    @property
    def is_again(self) -> bool:
        """True where a server was sent all of it before."""
        return bool(self.pieces) and all(piece.stretch.is_again for piece in self.pieces)

    @property
    def is_full(self) -> bool:
        """True where no further line fits."""
        return len(self.lines) >= BATCH

    def add(self, point: Point) -> None:
        """Put one point in."""
        self.left_out += point.is_without_number
        if point.text is not None:
            self.lines.append(point.text)


@dataclass(slots=True)
class _Reading:
    """A run being read: its readings, and beside them its estimates.

    `row` is the newest reading that was read for the wall clock of an estimate.
    """

    rows: Iterator[Sample | Gap]
    estimates: Iterator[Estimate] = field(default_factory=lambda: iter(()))
    row: Sample | Gap | None = None

    def utc_ns(self, estimate: Estimate) -> int | None:
        """The wall clock at an estimate; None where its reading is not committed yet."""
        while self.row is not None and self.row.seq < estimate.seq:
            self.row = next(self.rows, None)
        if self.row is None:
            return None
        return self.row.utc_ns + estimate.t_ns - self.row.t_ns


class Loader:
    """Reads what stretches stand for.

    Parameters
    ----------
    store, ledger
        Open both, of the same file.
    site, bench
        See `RunPoints`.
    """

    def __init__(self, store: Store, ledger: ForwardLedger, site: str, bench: str) -> None:
        self._store = store
        self._ledger = ledger
        self._names = (site, bench)
        self._points: dict[int, RunPoints] = {}
        # Where a stretch was left, so that the next batch of it begins without a search.
        self._left: dict[Kind, tuple[int, int, _Reading]] = {}

    def load(self, stretches: Sequence[Stretch]) -> Load:
        """As much of the stretches, in this order, as one batch holds."""
        load = Load()
        for stretch in stretches:
            if load.is_full:
                break
            run = self._store.run(stretch.run)
            if stretch.run not in self._points:
                self._points[stretch.run] = RunPoints(run.row, *self._names)
            points = self._points[stretch.run]
            match stretch.kind:
                case Kind.READING:
                    self._readings(load, stretch, run, points)
                case Kind.ESTIMATE:
                    self._estimates(load, stretch, run, points)
                case Kind.ALARM:
                    self._alarms(load, stretch, run, points)
                case Kind.MARK:
                    self._marks(load, stretch, run, points)
        return load

    def head_of(self, stretch: Stretch) -> int:
        """The place behind the newest row of a stretch's run; `next_place` where there is none."""
        last = self._store.run(stretch.run).last()
        return stretch.next_place if last is None else last.seq + 1

    def _readings(self, load: Load, stretch: Stretch, run: StoredRun, points: RunPoints) -> None:
        reading = self._taken_up(stretch) or _Reading(run.rows(after_seq=stretch.next_place - 1))
        until, is_last = stretch.next_place, True
        rows = list(islice(reading.rows, BATCH - len(load.lines)))
        points.know(run.steps())
        for row in rows:
            if stretch.ends is not None and row.seq >= stretch.ends:
                break
            load.add(points.reading(row))
            until = row.seq + 1
        else:
            is_last = not load.is_full
        self._note(load, stretch, until, is_last)
        if not is_last:
            self._left[stretch.kind] = (stretch.stretch, until, reading)

    def _estimates(self, load: Load, stretch: Stretch, run: StoredRun, points: RunPoints) -> None:
        newest = run.latest_estimate()
        if newest is None or newest.seq < stretch.next_place:
            self._note(load, stretch, stretch.next_place, is_last=True)
            return
        reading = self._taken_up(stretch) or _from_estimate(run, stretch.next_place)
        ends = NO_END if stretch.ends is None else stretch.ends
        until, is_last = stretch.next_place, True
        found = [
            (estimate, reading.utc_ns(estimate))
            for estimate in islice(reading.estimates, BATCH - len(load.lines))
        ]
        points.know(run.steps())
        for estimate, utc_ns in found:
            if estimate.seq >= ends or utc_ns is None:
                break
            load.add(points.estimate(estimate, utc_ns))
            until = estimate.seq + 1
        else:
            is_last = until > newest.seq
        self._note(load, stretch, until, is_last)
        if not is_last:
            self._left[stretch.kind] = (stretch.stretch, until, reading)

    def _taken_up(self, stretch: Stretch) -> "_Reading | None":
        """Where the last batch of a stretch that lies back was left, if it was taken."""
        number, place, reading = self._left.pop(stretch.kind, (None, None, None))
        if stretch.ends is None or (number, place) != (stretch.stretch, stretch.next_place):
            return None
        return reading

    def _alarms(self, load: Load, stretch: Stretch, run: StoredRun, points: RunPoints) -> None:
        events = run.alarms()
        ends = min(len(events), NO_END if stretch.ends is None else stretch.ends)
        count = BATCH - len(load.lines)
        until = stretch.next_place
        told = events[stretch.next_place : ends][:count]
        moments = [_utc_ns(run, event.seq, event.t_ns) for event in told]
        points.know(run.steps())
        for event, utc_ns in zip(told, moments, strict=True):
            load.add(points.alarm(event, utc_ns))
            until += 1
        self._note(load, stretch, until, is_last=until >= ends)

    def _marks(self, load: Load, stretch: Stretch, run: StoredRun, points: RunPoints) -> None:
        # Counted before they are read: a text that comes in between is sent once more.
        until = self._ledger.mark_texts(stretch.run)
        marks = run.marks()
        points.know(run.steps())
        for mark in marks:
            load.add(points.mark(mark))
        self._note(load, stretch, max(until, stretch.next_place), is_last=True)

    def _note(self, load: Load, stretch: Stretch, until: int, is_last: bool) -> None:
        """Keep a piece that moves something: the cursor, or a stretch out of the way."""
        if until > stretch.next_place or (is_last and stretch.ends is not None):
            load.pieces.append(Piece(stretch, until, is_last))


def _from_estimate(run: StoredRun, seq: int) -> _Reading:
    """The estimates from a seq on, and the readings beside them.

    The store finds estimates by time, and answers may lie a little out of its order.
    """
    rows = run.rows(after_seq=seq - 1)
    row = next(rows, None)
    if row is None:
        return _Reading(rows)
    found = run.estimates(max(row.t_s - DISORDER_S, 0.0))
    return _Reading(rows, (one for one in found if one.seq >= seq), row)


def _utc_ns(run: StoredRun, seq: int, t_ns: int) -> int:
    """The wall clock at a moment of a run, by the reading at it or the first one after."""
    row = next(run.rows(after_seq=seq - 1), None) or run.last()
    if row is None:
        return run.row.began_utc_ns + t_ns
    return row.utc_ns + t_ns - row.t_ns
