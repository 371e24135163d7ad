"""Reads the sealed part of a run: rows or single columns. Call these inside a transaction."""

import hashlib
import sqlite3
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from monitor.store.chunk import digest_of, unpack_column, unpack_samples
from monitor.store.estimate_rows import unsound_estimates
from monitor.store.mapping import Row
from monitor.store.packing import Entries
from monitor.store.tables import CHUNK_CELLS

_HEAD = "first_seq, last_seq, rows, low_t_ns, high_t_ns"


@dataclass(frozen=True, slots=True)
class ChunkHead:
    """What a chunk holds, without its cells; `low_t_ns` and `high_t_ns` are its outermost times."""

    run: int
    first_seq: int
    last_seq: int
    rows: int
    low_t_ns: int
    high_t_ns: int


def sealed_to(connection: sqlite3.Connection, run: int) -> int:
    """The last `seq` of a run that is sealed; -1 where nothing is."""
    newest: tuple[int] | None = connection.execute(
        "SELECT last_seq FROM chunks WHERE run = ? ORDER BY first_seq DESC LIMIT 1", (run,)
    ).fetchone()
    return -1 if newest is None else newest[0]


def digest_of_run(digests: Iterable[bytes]) -> bytes:
    """SHA-256 of a run: of its chunks' digests, in order."""
    return hashlib.sha256(b"".join(digests)).digest()


def heads(
    connection: sqlite3.Connection,
    run: int,
    from_seq: int,
    to_seq: int,
) -> list[ChunkHead]:
    """The chunks that hold rows from one `seq` to the other, both included, in order."""
    rows = connection.execute(
        f"SELECT {_HEAD} FROM chunks WHERE run = ? AND first_seq <= ? AND last_seq >= ?"
        " ORDER BY first_seq",
        (run, to_seq, from_seq),
    )
    return [ChunkHead(run, *row) for row in rows.fetchall()]


def next_rows(connection: sqlite3.Connection, run: int, after_seq: int) -> list[Row]:
    """The sealed rows behind a `seq` that lie in one chunk; empty where none is left.

    Raises
    ------
    ValueError
        The chunk is not sound.
    """
    chunk = f"SELECT rows, {CHUNK_CELLS} FROM chunks WHERE run = :run AND first_seq "
    cells = (
        connection.execute(
            # The chunk in which the seq lies, unless it is its last; then the next one.
            f"{chunk} = (SELECT first_seq FROM chunks WHERE run = :run AND first_seq <= :after"
            " ORDER BY first_seq DESC LIMIT 1) AND last_seq > :after",
            {"run": run, "after": after_seq},
        ).fetchone()
        or connection.execute(
            f"{chunk} > :after ORDER BY first_seq LIMIT 1", {"run": run, "after": after_seq}
        ).fetchone()
    )
    if cells is None:
        return []
    rows = _rows(cells)
    return rows if rows[0][0] > after_seq else [row for row in rows if row[0] > after_seq]


def newest_row(connection: sqlite3.Connection, run: int) -> Row | None:
    """The newest sealed row; None where none is.

    Raises
    ------
    ValueError
        The chunk is not sound.
    """
    cells = connection.execute(
        f"SELECT rows, {CHUNK_CELLS} FROM chunks WHERE run = ? ORDER BY first_seq DESC LIMIT 1",
        (run,),
    ).fetchone()
    return None if cells is None else _rows(cells)[-1]


def newest_place(connection: sqlite3.Connection, run: int) -> tuple[int, int] | None:
    """The newest sealed row's `seq` and `t_ns`, without the rest of it; None where none is.

    Raises
    ------
    ValueError
        The chunk is not sound.
    """
    newest = connection.execute(
        "SELECT last_seq, rows, t_ns_packed FROM chunks WHERE run = ?"
        " ORDER BY first_seq DESC LIMIT 1",
        (run,),
    ).fetchone()
    if newest is None:
        return None
    last_seq, rows, cell = newest
    return (last_seq, unpack_column("t_ns", cell, rows)[-1])


def columns_of_chunk(
    connection: sqlite3.Connection, head: ChunkHead, names: Sequence[str]
) -> list[Entries]:
    """Some columns of a chunk.

    Raises
    ------
    ValueError
        The chunk is not sound.
    """
    cells = connection.execute(
        f"SELECT {', '.join(f'{name}_packed' for name in names)} FROM chunks"
        " WHERE run = ? AND first_seq = ?",
        (head.run, head.first_seq),
    ).fetchone()
    return [unpack_column(name, cell, head.rows) for name, cell in zip(names, cells, strict=True)]


def what_is_unsound(
    connection: sqlite3.Connection,
    run: int,
    *,
    rows_too: bool,
    is_late: Callable[[], bool] = lambda: False,
) -> str | None:
    """Whether a run's chunks are those that were sealed; None if so, else what is wrong.

    Parameters
    ----------
    rows_too
        Unpack every chunk and compare its rows with its digest, instead of the digests alone.
    is_late
        Asked before each chunk; no further one is unpacked once it says so.
    """
    seal = connection.execute("SELECT rows, digest FROM seals WHERE run = ?", (run,)).fetchone()
    chunks = connection.execute(
        "SELECT first_seq, rows, digest FROM chunks WHERE run = ? ORDER BY first_seq", (run,)
    ).fetchall()
    if seal is not None:
        rows = sum(chunk[1] for chunk in chunks)
        if seal != (rows, digest_of_run(chunk[2] for chunk in chunks)):
            return f"run {run}: its rows are not those that were sealed"
        if connection.execute("SELECT 1 FROM samples WHERE run = ? LIMIT 1", (run,)).fetchone():
            return f"run {run}: rows were added after its end"
    if rows_too:
        unsound = unsound_estimates(connection, run)
        if unsound is not None:
            return unsound
        for first_seq, count, digest in chunks:
            if is_late():
                return None
            try:
                unpacked = next_rows(connection, run, first_seq - 1)
                same = (
                    len(unpacked) == count
                    and digest_of(list(zip(*unpacked, strict=True))) == digest
                )
            except (ValueError, TypeError, OverflowError):
                same = False
            if not same:
                return f"run {run}: the rows from {first_seq} on are not those that were recorded"
    return None


def _rows(chunk: Row) -> list[Row]:
    """The rows of a chunk, given as their number and CHUNK_CELLS."""
    return unpack_samples(chunk[1:], chunk[0])


def seq_range(
    connection: sqlite3.Connection, run: int, from_ns: int, to_ns: int
) -> tuple[int, int] | None:
    """The first and last `seq` of the chunks that touch a stretch of time; None without any."""
    first, last = connection.execute(
        "SELECT min(first_seq), max(last_seq) FROM chunks"
        " WHERE run = ? AND low_t_ns <= ? AND high_t_ns >= ?",
        (run, to_ns, from_ns),
    ).fetchone()
    return None if first is None else (first, last)
