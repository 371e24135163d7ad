"""The rows of a run, sealed or not. Call these inside one `look`."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from monitor.model.sample import Gap, Sample
from monitor.store.failures import damaged, store_errors
from monitor.store.mapping import Row
from monitor.store.sealed import newest_place, newest_row, next_rows, sealed_to, seq_range
from monitor.store.tables import SAMPLE_COLUMNS, row_of

PAGE = 4096
"""Rows read at once: bounds memory, and how long a transaction lasts."""
DISORDER = 64
"""Rows around a moment that may lie out of the order of time: answers are late, gaps never."""
LAST_NS = 2**63 - 1

_PAGE = f"SELECT {SAMPLE_COLUMNS} FROM samples WHERE run = ? AND seq > ? ORDER BY seq LIMIT {PAGE}"
_NEWEST = f"SELECT {SAMPLE_COLUMNS} FROM samples WHERE run = ? ORDER BY seq DESC LIMIT 1"
_PROBE = "SELECT seq, t_ns FROM samples WHERE run = ? AND seq >= ? ORDER BY seq LIMIT 1"


@contextmanager
def look(connection: sqlite3.Connection, path: Path) -> Iterator[sqlite3.Connection]:
    """One short transaction of a reader, so that no row is sealed between two queries.

    Raises
    ------
    StoreError
        `StoreDamaged` also for a ValueError inside: something is not as we write it.
    """
    with store_errors(path):
        is_outermost = not connection.in_transaction
        if is_outermost:
            connection.execute("BEGIN")
        try:
            yield connection
        except ValueError as error:
            raise damaged(path, str(error)) from error
        finally:
            if is_outermost and connection.in_transaction:
                connection.execute("ROLLBACK")


def page_of_cells(connection: sqlite3.Connection, run: int, after_seq: int) -> list[Row]:
    """The next rows behind a `seq`, as SAMPLE_COLUMNS; empty where none is left."""
    if -1 < sealed_to(connection, run) > after_seq:
        return next_rows(connection, run, after_seq)
    return connection.execute(_PAGE, (run, after_seq)).fetchall()


def page_of_rows(connection: sqlite3.Connection, run: int, after_seq: int) -> list[Sample | Gap]:
    """The same as samples and gaps; a gap that begins a stretch has the stretch's detail."""
    page = page_of_cells(connection, run, after_seq)
    return _decoded(connection, run, page) if page else []


def newest(connection: sqlite3.Connection, run: int) -> Sample | Gap | None:
    """The newest row; None before the first."""
    cells = _newest_cells(connection, run)
    return None if cells is None else _decoded(connection, run, [cells])[0]


def last_place(connection: sqlite3.Connection, run: int) -> tuple[int, int]:
    """The newest row's `seq` and `t_ns`; -1 and 0 before the first."""
    cells = connection.execute(_NEWEST, (run,)).fetchone()
    if cells is None:
        return newest_place(connection, run) or (-1, 0)
    return (cells[0], cells[1])


def seqs_between(
    connection: sqlite3.Connection, run: int, from_ns: int, to_ns: int
) -> tuple[int, int]:
    """The first and last `seq` between which all rows of a stretch of time lie.

    To a chunk where rows are sealed, to a few rows where they are not.
    """
    sealed = seq_range(connection, run, from_ns, to_ns)
    first = _seq_at(connection, run, from_ns) - DISORDER
    last = _seq_at(connection, run, to_ns) + DISORDER
    if sealed is None:
        return (first, last)
    end = sealed_to(connection, run)
    # A stretch that reaches behind the sealed rows ends among the others.
    return (sealed[0], max(last, sealed[1]) if sealed[1] == end else sealed[1])


def _newest_cells(connection: sqlite3.Connection, run: int) -> Row | None:
    cells: Row | None = connection.execute(_NEWEST, (run,)).fetchone()
    return newest_row(connection, run) if cells is None else cells


def _decoded(connection: sqlite3.Connection, run: int, page: list[Row]) -> list[Sample | Gap]:
    details = dict(
        connection.execute(
            "SELECT began_seq, detail FROM gaps WHERE run = ? AND began_seq BETWEEN ? AND ?",
            (run, page[0][0], page[-1][0]),
        ).fetchall()
    )
    return [row_of(cells, details.get(cells[0], "")) for cells in page]


def _seq_at(connection: sqlite3.Connection, run: int, t_ns: int) -> int:
    """About the first unsealed row not before a moment; found without an index on the time."""
    low, high = connection.execute(
        "SELECT (SELECT min(seq) FROM samples WHERE run = :run),"
        " (SELECT max(seq) FROM samples WHERE run = :run)",
        {"run": run},
    ).fetchone()
    if low is None:
        return 0
    while low < high:
        middle = (low + high) // 2
        seq, at_ns = connection.execute(_PROBE, (run, middle)).fetchone()
        if at_ns < t_ns:
            low = seq + 1
        else:
            high = middle
    return int(low)
