"""Batches of lines, read from the stretches that a server lacks.

Each batch knows how far it moves the cursor.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice

from monitor.forward.points import Point, RunPoints
from monitor.model.alarm import AlarmEvent
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


_Thing = Sample | Gap | Estimate | AlarmEvent
_Item = tuple[int, _Thing, int]
"""The place of a thing in its run, the thing, and its wall-clock time in ns."""


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
        self._left: dict[Kind, tuple[int, int, Iterator[_Item]]] = {}

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
            if stretch.kind is Kind.MARK:
                self._take_marks(load, stretch, run, points)
            else:
                self._take(load, stretch, run, points)
        return load

    def head_of(self, stretch: Stretch) -> int:
        """The place behind the newest row of a stretch's run; `next_place` where there is none."""
        last = self._store.run(stretch.run).last()
        return stretch.next_place if last is None else last.seq + 1

    def _take(self, load: Load, stretch: Stretch, run: StoredRun, points: RunPoints) -> None:
        ends = NO_END if stretch.ends is None else stretch.ends
        items = self._left_of(stretch) or _ITEMS[stretch.kind](run, stretch.next_place)
        room = BATCH - len(load.lines)
        batch = list(islice(items, room))
        until, is_last = stretch.next_place, len(batch) < room
        points.know(run.steps())
        for place, item, utc_ns in batch:
            if place >= ends:
                is_last = True
                break
            load.add(_point(points, item, utc_ns))
            until = place + 1
        self._note(load, stretch, until, is_last)
        if not is_last:
            self._left[stretch.kind] = (stretch.stretch, until, items)

    def _left_of(self, stretch: Stretch) -> Iterator[_Item] | None:
        """What is left of a stretch that lies back, if its last batch was taken."""
        number, place, items = self._left.pop(stretch.kind, (None, None, None))
        if stretch.ends is None or (number, place) != (stretch.stretch, stretch.next_place):
            return None
        return items

    def _take_marks(self, load: Load, stretch: Stretch, run: StoredRun, points: RunPoints) -> None:
        """All marks of the run again, since the new text may be of any of them."""
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


def _point(points: RunPoints, thing: _Thing, utc_ns: int) -> Point:
    if isinstance(thing, Estimate):
        return points.estimate(thing, utc_ns)
    if isinstance(thing, AlarmEvent):
        return points.alarm(thing, utc_ns)
    return points.reading(thing)


def _readings(run: StoredRun, place: int) -> Iterator[_Item]:
    return ((row.seq, row, row.utc_ns) for row in run.rows(after_seq=place - 1))


def _estimates(run: StoredRun, place: int) -> Iterator[_Item]:
    """The estimates whose reading, which has the wall clock, is committed."""
    newest = run.latest_estimate()
    if newest is None or newest.seq < place:
        return
    rows = run.rows(after_seq=place - 1)
    row = next(rows, None)
    if row is None:
        return
    # The store finds estimates by time, and answers may lie a little out of its order.
    for estimate in run.estimates(max(row.t_s - DISORDER_S, 0.0)):
        if estimate.seq < place:
            continue
        while row is not None and row.seq < estimate.seq:
            row = next(rows, None)
        if row is None:
            return
        yield estimate.seq, estimate, row.utc_ns + estimate.t_ns - row.t_ns


def _alarms(run: StoredRun, place: int) -> Iterator[_Item]:
    for number, event in enumerate(run.alarms()[place:], place):
        # The wall clock by the reading at it, or the first one after.
        row = next(run.rows(after_seq=event.seq - 1), None) or run.last()
        began_ns = run.row.began_utc_ns if row is None else row.utc_ns - row.t_ns
        yield number, event, began_ns + event.t_ns


_ITEMS = {Kind.READING: _readings, Kind.ESTIMATE: _estimates, Kind.ALARM: _alarms}
