"""The estimates of a run, sealed or not: read in pages, thinned and sealed as they grow older.

Call these inside a transaction.
"""

import hashlib
import sqlite3
from collections.abc import Iterable, Sequence

from monitor.store.chunk import pack_estimates, unpack_estimates
from monitor.store.mapping import Row
from monitor.store.tables import ESTIMATES

PAGE = 4096
ROWS_APART = 5
"""Far from any event, one estimate for so many polls is kept: one a second at 5 Hz."""
NEAR_NS = 60_000_000_000
"""Every estimate so near to an event is kept."""
MOST_AT_ONCE = 16_384
"""Estimates of one chunk at most; a store of an older version may hold more that wait."""

_STATES = tuple(ESTIMATES.names.index(name) for name in ("why", "hottest", "in_contact"))
_ROWS = ESTIMATES.select(f"WHERE run = ? AND seq > ? ORDER BY seq LIMIT {PAGE}")
_NEWEST = ESTIMATES.select("WHERE run = ? ORDER BY seq DESC LIMIT 1")
_OLDEST = ESTIMATES.select(
    "WHERE run = :run AND seq <= :last AND seq < (SELECT max(seq) FROM estimates WHERE run = :run)"
    f" ORDER BY seq LIMIT {MOST_AT_ONCE}"
)
_HAPPENED = " UNION ".join(
    f"SELECT {moment} FROM {table} WHERE run = :run AND {moment} BETWEEN :from_ns AND :to_ns"
    for table, moment in (
        ("alarms", "t_ns"),
        ("prompts", "t_ns"),
        ("explanations", "t_ns"),
        ("marks", "t_ns"),
        ("gaps", "began_t_ns"),
        ("gaps", "ended_t_ns"),
    )
)
_INSERT = (
    "INSERT INTO estimate_chunks (run, first_seq, last_seq, rows, digest, packed)"
    " VALUES (?, ?, ?, ?, ?, ?)"
)


def thinned(rows: Sequence[Row], happened_ns: Iterable[int]) -> list[Row]:
    """The estimates that are kept: all near an event, all where a word changes, else every fifth.

    Parameters
    ----------
    happened_ns
        When something happened, in `t_ns`: alarms, prompts, marks, gaps.

    Examples
    --------
    >>> rows = [(seq, seq * 10**9, *[None] * 25) for seq in range(200)]
    >>> [row[0] for row in thinned(rows, [])][:3]
    [0, 5, 10]
    >>> len(thinned(rows, [100 * 10**9]))
    136
    """
    moments = sorted(happened_ns)
    kept: list[Row] = []
    nearest = 0
    for row in rows:
        seq, t_ns = row[0], row[1]
        while nearest < len(moments) and moments[nearest] < t_ns - NEAR_NS:
            nearest += 1
        is_near = nearest < len(moments) and moments[nearest] <= t_ns + NEAR_NS
        is_due = not kept or seq - kept[-1][0] >= ROWS_APART
        if is_near or is_due or any(row[state] != kept[-1][state] for state in _STATES):
            kept.append(row)
    return kept


def page_of_estimates(connection: sqlite3.Connection, run: int, after_seq: int) -> list[Row]:
    """The next estimates behind a `seq`, as ESTIMATES.columns; empty where none is left.

    Raises
    ------
    ValueError
        A chunk is not sound.
    """
    chunk = connection.execute(
        "SELECT rows, packed FROM estimate_chunks WHERE run = ? AND last_seq > ?"
        " ORDER BY first_seq LIMIT 1",
        (run, after_seq),
    ).fetchone()
    if chunk is None:
        return connection.execute(_ROWS, (run, after_seq)).fetchall()
    return [row for row in unpack_estimates(chunk[1], chunk[0]) if row[0] > after_seq]


def newest_estimate(connection: sqlite3.Connection, run: int) -> Row | None:
    """The newest estimate, which is never sealed; None before the first."""
    newest: Row | None = connection.execute(_NEWEST, (run,)).fetchone()
    return newest


def seal_estimates(connection: sqlite3.Connection, run: int, last_seq: int) -> None:
    """Thin and pack a run's estimates up to a `seq`, all but its newest; their rows go.

    Raises
    ------
    ValueError
        They do not come back as they were; nothing was removed.
    """
    rows = connection.execute(_OLDEST, {"run": run, "last": last_seq}).fetchall()
    if not rows:
        return
    first, last = rows[0], rows[-1]
    around = {"run": run, "from_ns": first[1] - NEAR_NS, "to_ns": last[1] + NEAR_NS}
    kept = thinned(rows, [t_ns for (t_ns,) in connection.execute(_HAPPENED, around)])
    blob = pack_estimates(kept)
    cells = (run, kept[0][0], kept[-1][0], len(kept), _digest_of(blob), blob)
    connection.execute(_INSERT, cells)
    connection.execute(
        "DELETE FROM estimates WHERE run = ? AND seq BETWEEN ? AND ?", (run, first[0], last[0])
    )


def unsound_estimates(connection: sqlite3.Connection, run: int) -> str | None:
    """Whether the sealed estimates are those that were sealed; None if so, else what is wrong."""
    for first_seq, rows, digest, blob in connection.execute(
        "SELECT first_seq, rows, digest, packed FROM estimate_chunks WHERE run = ?", (run,)
    ):
        try:
            is_sound = _digest_of(blob) == digest and len(unpack_estimates(blob, rows)) == rows
        except (ValueError, TypeError, OverflowError):
            is_sound = False
        if not is_sound:
            return f"run {run}: the estimates from {first_seq} on are not those that were sealed"
    return None


def _digest_of(blob: bytes) -> bytes:
    """SHA-256 of a chunk as it was packed."""
    return hashlib.sha256(blob).digest()
