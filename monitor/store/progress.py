"""How far each run has come in the store: what the writer must know to add the next row."""

import sqlite3
from dataclasses import dataclass
from pathlib import Path

from monitor.base.errors import NoSuchRun
from monitor.store.sealed import newest_row, sealed_to


@dataclass(slots=True)
class Progress:
    """One run's place.

    Parameters
    ----------
    last_seq, last_t_ns, last_utc_ns
        Of the newest stored row; -1, 0 and the run's beginning before the first.
    answered, missing
        Stored polls with and without an answer.
    open_stretch
        `began_seq` of the stretch without answers that still lasts; None where answers come.
    sealed_to
        The newest `seq` that is sealed; -1 where nothing is.
    """

    last_seq: int
    last_t_ns: int
    last_utc_ns: int
    answered: int
    missing: int
    open_stretch: int | None
    sealed_to: int = -1


def progress_of(connection: sqlite3.Connection, path: Path, run: int) -> Progress:
    """A run's place, as the store has it.

    Raises
    ------
    NoSuchRun
        The store does not hold it.
    """
    tally = connection.execute(
        "SELECT began_utc_ns, answered, missing FROM runs JOIN tallies USING (run) WHERE run = ?",
        (run,),
    ).fetchone()
    if tally is None:
        raise NoSuchRun(f"{path}: holds no run {run}; see `bathvigil runs`")
    began_utc_ns, answered, missing = tally
    newest = connection.execute(
        "SELECT seq, t_ns, utc_ns FROM samples WHERE run = ? ORDER BY seq DESC LIMIT 1", (run,)
    ).fetchone()
    if newest is None:
        sealed_row = newest_row(connection, run)
        newest = None if sealed_row is None else sealed_row[:3]
    seq, t_ns, utc_ns = newest or (-1, 0, began_utc_ns)
    stretch = connection.execute(
        "SELECT began_seq FROM gaps WHERE run = ? AND ended_t_ns IS NULL "
        "ORDER BY began_seq DESC LIMIT 1",
        (run,),
    ).fetchone()
    open_stretch = stretch[0] if stretch else None
    sealed = sealed_to(connection, run)
    return Progress(seq, t_ns, utc_ns, answered, missing, open_stretch, sealed)


def end_stretch(connection: sqlite3.Connection, run: int, progress: Progress, t_ns: int) -> None:
    """End the stretch without answers that lasts, if one does."""
    if progress.open_stretch is not None:
        connection.execute(
            "UPDATE gaps SET ended_t_ns = ? WHERE run = ? AND began_seq = ?",
            (t_ns, run, progress.open_stretch),
        )
        progress.open_stretch = None


def begin_stretch(
    connection: sqlite3.Connection,
    run: int,
    progress: Progress,
    began: tuple[int, int],
    reason: str,
    detail: str = "",
) -> None:
    """Begin a stretch without answers at `began`, which is (seq, t_ns); it holds no poll yet."""
    connection.execute(
        "INSERT INTO gaps (run, began_seq, began_t_ns, polls, reason, detail) "
        "VALUES (?, ?, ?, 0, ?, ?)",
        (run, *began, reason, detail),
    )
    progress.open_stretch = began[0]
