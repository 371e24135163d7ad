"""The pieces of a chart's columns: from blocks where they serve, else from rows.

Blocks no wider than the columns are read: a block lies in the column in which it begins, so that
what it says may stand up to one column to the left in a chart of `LEAST_COLUMNS` and more. Where
that could hide a hole, mix what two recorders wrote or reach beyond the stretch, the next finer
blocks are read instead, down to the rows themselves.
"""

import sqlite3
from array import array
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from operator import le

from monitor.store.blocks import SCALES
from monitor.store.columns import Piece, Quantity
from monitor.store.mapping import Row
from monitor.store.packing import Entries
from monitor.store.sealed import ChunkHead, columns_of_chunk, heads, sealed_to

LEAST_COLUMNS = 512
"""A narrower chart is read as finely as one of so many columns: that is quick enough."""
_ORDER = ("amps", "volts", "celsius")
_NONE: Quantity = (None, None, None, 0)
_SUSPECT, _MISSING = 2, 3

_BLOCKS = (
    "SELECT min((low_t_ns - :from_ns) / :width_ns, :count - 1),"
    " sum(samples), sum(suspect), sum(missing), "
    + ", ".join(
        f"min({name}_low), max({name}_high), sum({name}_mean * {name}_values), sum({name}_values)"
        for name in _ORDER
    )
    + " FROM blocks WHERE run = :run AND scale = :scale AND number >= :first AND number < :last"
    " AND low_t_ns >= :from_ns AND high_t_ns <= :to_ns"
)
_ROWS = (
    "SELECT min((t_ns - :from_ns) / :width_ns, :count - 1),"
    " sum(quality < 2), sum(quality = 2), sum(quality = 3), "
    + ", ".join(
        f"min({name}) FILTER (WHERE quality < 2), max({name}) FILTER (WHERE quality < 2),"
        f" sum({name}) FILTER (WHERE quality < 2), count({name}) FILTER (WHERE quality < 2)"
        for name in _ORDER
    )
    + " FROM samples WHERE run = :run AND seq >= :first AND seq < :last"
    " AND t_ns BETWEEN :from_ns AND :to_ns GROUP BY 1"
)
_DOUBTFUL = (
    "SELECT number, low_t_ns, high_t_ns, missing > 0 AND samples + suspect > 0 FROM blocks"
    " WHERE run = :run AND scale = :scale AND number >= :first AND number < :last"
    " AND low_t_ns <= :to_ns AND high_t_ns >= :from_ns"
    " AND (low_t_ns < :from_ns OR high_t_ns > :to_ns OR high_t_ns - low_t_ns > :width_ns"
    "      OR (:has_holes AND missing > 0 AND samples + suspect > 0))"
)


@dataclass(frozen=True, slots=True)
class Chart:
    """What is asked for.

    Parameters
    ----------
    from_ns, to_ns
        The stretch, both ends included, in nanoseconds since the run began.
    width_ns, count
        Of the columns.
    holes_ns
        The ends, in order, of the stretches without answers that are as wide as a column.
    """

    run: int
    from_ns: int
    to_ns: int
    width_ns: int
    count: int
    holes_ns: Sequence[int] = ()


def pieces_of(
    connection: sqlite3.Connection, chart: Chart, first_seq: int, end_seq: int, last_seq: int
) -> Iterator[Piece]:
    """The pieces of the rows from `first_seq` to before `end_seq`.

    Parameters
    ----------
    last_seq
        The run's newest: up to it blocks are closed.

    Raises
    ------
    ValueError
        A chunk is not sound.
    """
    if end_seq <= first_seq:
        return
    columns = max(chart.count, LEAST_COLUMNS)
    wanted = (end_seq - first_seq) // columns
    level = bisect_right(SCALES, wanted) - 1
    yield from _Reading(connection, chart, last_seq).pieces(level, first_seq, end_seq)


class _Reading:
    def __init__(self, connection: sqlite3.Connection, chart: Chart, last_seq: int) -> None:
        self._connection = connection
        self._chart = chart
        self._last_seq = last_seq
        self._sealed_to = sealed_to(connection, chart.run)
        self._chunk = _Chunk(-1, [], [], [], [])
        self._values = {
            "run": chart.run,
            "from_ns": chart.from_ns,
            "to_ns": chart.to_ns,
            "width_ns": chart.width_ns,
            "count": chart.count,
            "has_holes": bool(chart.holes_ns),
        }

    def pieces(self, level: int, first: int, end: int) -> Iterator[Piece]:
        """Of one range of `seq`, from blocks of one level and finer ones at its ends."""
        if end <= first:
            return
        if level < 0:
            yield from self._rows(first, end)
            return
        scale = SCALES[level]
        low = -(-first // scale)
        high = min(end, self._last_seq) // scale
        if high <= low:
            yield from self.pieces(level - 1, first, end)
            return
        yield from self.pieces(level - 1, first, low * scale)
        values = {**self._values, "scale": scale, "first": low, "last": high}
        doubtful = self._doubtful(values)
        but = f" AND number NOT IN ({', '.join(map(str, doubtful))})" if doubtful else ""
        for cells in self._connection.execute(f"{_BLOCKS}{but} GROUP BY 1", values).fetchall():
            yield _piece(cells)
        for number in doubtful:
            yield from self.pieces(level - 1, number * scale, (number + 1) * scale)
        yield from self.pieces(level - 1, high * scale, end)

    def _doubtful(self, values: dict[str, int]) -> list[int]:
        holes = self._chart.holes_ns
        numbers = []
        for number, low_ns, high_ns, is_mixed in self._connection.execute(_DOUBTFUL, values):
            is_at_an_end = low_ns < self._chart.from_ns or high_ns > self._chart.to_ns
            is_wide = high_ns - low_ns > self._chart.width_ns
            has_end = is_mixed and bisect_left(holes, low_ns) < bisect_right(holes, high_ns)
            if is_at_an_end or is_wide or has_end:
                numbers.append(number)
        return numbers

    def _rows(self, first: int, end: int) -> Iterator[Piece]:
        if first <= self._sealed_to:
            for head in heads(self._connection, self._chart.run, first, end - 1):
                if head.first_seq != self._chunk.first_seq:
                    # Ranges come in order, so that the newest chunk is all there is to keep.
                    self._chunk = _Chunk.read(self._connection, head)
                yield from self._chunk.pieces(self._chart, first, end)
        if end > self._sealed_to + 1:
            first = max(first, self._sealed_to + 1)
            values = {**self._values, "first": first, "last": end}
            for cells in self._connection.execute(_ROWS, values).fetchall():
                yield _piece(cells)


@dataclass(frozen=True, slots=True)
class _Chunk:
    """A chunk's rows as columns; `quantities` are those of `_ORDER`."""

    first_seq: int
    seqs: Entries
    times_ns: Entries
    qualities: Entries
    quantities: Sequence[Entries]

    @classmethod
    def read(cls, connection: sqlite3.Connection, head: ChunkHead) -> "_Chunk":
        names = ("t_ns", "quality", *_ORDER)
        times_ns, qualities, *quantities = columns_of_chunk(connection, head, names)
        seqs: Entries = range(head.first_seq, head.last_seq + 1)
        if len(seqs) != head.rows:
            (seqs,) = columns_of_chunk(connection, head, ("seq",))
        # Lists: their lowest and highest are found several times as quickly as an array's.
        return cls(
            head.first_seq, seqs, times_ns, qualities, [list(entries) for entries in quantities]
        )

    def pieces(self, chart: Chart, first: int, end: int) -> Iterator[Piece]:
        """Of the rows from one `seq` to before another."""
        began, ended = bisect_left(self.seqs, first), bisect_left(self.seqs, end)
        times_ns = self.times_ns[began:ended]
        qualities = self.qualities[began:ended]
        quantities = [entries[began:ended] for entries in self.quantities]
        if not all(map(le, times_ns, times_ns[1:])):
            order = sorted(range(len(times_ns)), key=times_ns.__getitem__)
            times_ns = [times_ns[row] for row in order]
            qualities = array("q", [qualities[row] for row in order])
            quantities = [[entries[row] for row in order] for entries in quantities]
        are_good = not len(qualities) or max(qualities) < _SUSPECT
        are_whole = are_good and not any(None in entries for entries in quantities)
        amps, volts, celsius = quantities
        place = bisect_left(times_ns, chart.from_ns)
        last = bisect_right(times_ns, chart.to_ns)
        while place < last:
            number = min((times_ns[place] - chart.from_ns) // chart.width_ns, chart.count - 1)
            border_ns = chart.from_ns + (number + 1) * chart.width_ns
            upto = (
                last if number == chart.count - 1 else bisect_left(times_ns, border_ns, place, last)
            )
            take: Callable[[Entries, Entries], Quantity] = _whole
            suspect, missing = 0, 0
            inside: Entries = ()
            if not are_whole:
                take = _partial
                inside = qualities[place:upto]
                suspect, missing = inside.count(_SUSPECT), inside.count(_MISSING)
            yield (
                number,
                upto - place - suspect - missing,
                suspect,
                missing,
                take(amps[place:upto], inside),
                take(volts[place:upto], inside),
                take(celsius[place:upto], inside),
            )
            place = upto


def _whole(entries: Entries, _: Entries) -> Quantity:
    """Of rows all of which have a value that can be reckoned with."""
    return (min(entries), max(entries), sum(entries), len(entries))


def _partial(entries: Entries, qualities: Entries) -> Quantity:
    """Of rows some of which may not."""
    known = [
        entry
        for entry, quality in zip(entries, qualities, strict=True)
        if quality < _SUSPECT and entry is not None
    ]
    return _whole(known, ()) if known else _NONE


def _piece(cells: Row) -> Piece:
    number, samples, suspect, missing, *figures = cells
    amps, volts, celsius = (figures[first : first + 4] for first in (0, 4, 8))
    return (number, samples, suspect, missing, tuple(amps), tuple(volts), tuple(celsius))
