"""The one writer of a run store: it stores batches, each in one transaction."""

import os
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from drivers.base.clock import Clock, SpedClock, SystemClock, boot_id
from monitor.base.errors import StoreError
from monitor.model.request import Request, RequestKind
from monitor.model.run import RunFacts, RunRow, Segment
from monitor.store.batch import Batch, Entry
from monitor.store.failures import gone, store_errors
from monitor.store.opening import atomic
from monitor.store.opening_to_write import open_to_write
from monitor.store.progress import Progress, begin_stretch, end_stretch, progress_of
from monitor.store.putting_back import copy_beside, take_its_place
from monitor.store.schema import STEPS
from monitor.store.sealing import Sealing
from monitor.store.tables import FACTS, REQUESTS, RUNS, SEGMENTS

__all__ = ["Entry", "StoreWriter"]

PAGES_GIVEN_BACK = 4096
"""Free pages given back to the disk when a run ends: sealed rows leave many."""


class StoreWriter:
    """The connection that writes; used by one thread at a time.

    Opens the file, makes it if there is none, and brings an older one up to date (a copy of it is
    kept beside it). Every method may raise a `StoreError` that names the cure. Nothing of the
    failed call is then in the file, and the call can be repeated.

    Parameters
    ----------
    path
        The store.
    clock
        Dates what belongs to no run; the machine's clock where None.
    busy_timeout_s
        How long to wait for another program's lock.
    check_within_s
        How long reading an existing file through for damage may take.
    steps
        The schema.

    Raises
    ------
    StoreError
        `NotAStore`, `StoreFromNewerVersion`, `StoreUnreachable` and others; a damaged store is
        not an error: see `set_aside`.
    """

    def __init__(
        self,
        path: Path,
        *,
        clock: Clock | None = None,
        busy_timeout_s: float = 1.0,
        check_within_s: float = 10.0,
        steps: Sequence[str] = STEPS,
    ) -> None:
        self.path = path
        self._clock = clock or SystemClock()
        self._open = partial(
            open_to_write, path, self._clock, busy_timeout_s, check_within_s, steps
        )
        opened = self._open()
        self._connection = opened.connection
        self.set_aside = opened.set_aside
        """The new place of a damaged file that lay here; None where there was none."""
        self.older_copy = opened.older_copy
        """The copy of an older file that was brought up to date; None where there was none."""
        self._file = self._identity()
        self._waiting_copy: Path | None = None
        self._clocks: dict[int, Clock] = {}
        self._segments: dict[int, Segment] = {}
        self._places: dict[int, Progress] = {}
        with store_errors(path):
            self._sealing = Sealing(self._connection, path, self._transaction)

    def __enter__(self) -> "StoreWriter":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; SQLite folds the write-ahead log into it if no other process has it."""
        with store_errors(self.path):
            self._connection.close()

    def begin_run(self, facts: RunFacts, *, clock: Clock, program: str) -> RunRow:
        """Store a new run and its first segment.

        Parameters
        ----------
        clock
            The run's clock, which may be sped up; `t_ns` counts from now on it.
        program
            Name and version of what records.
        """
        utc_ns = clock.utc_ns()
        with self._transaction():
            run = self._connection.execute(
                FACTS.insert("program, began_utc_ns, utc_offset_s"),
                (program, utc_ns, _utc_offset_s(utc_ns), *FACTS.cells(facts)),
            ).lastrowid
            assert run is not None
            self._connection.execute("INSERT INTO tallies VALUES (?, 0, 0)", (run,))
            segment = self._begin_segment(run, clock, 0, (0, 0), "begun")
        self._clocks[run], self._segments[run] = clock, segment
        return self._run(run)

    def resume_run(self, run: int, *, clock: Clock, cause: str = "recorder stopped") -> Segment:
        """Continue an unfinished run in a new segment; the time between is stored as a gap.

        Within one boot the time that has passed is the monotonic clock's, so `clock` must be the
        run's own, sped up from the same anchor (see `Segment`); across boots only the wall clock
        knows it.

        Parameters
        ----------
        cause
            Why there was no recorder; the reason of the gap.

        Raises
        ------
        NoSuchRun
            The store does not hold it.
        StoreError
            It has ended.
        """
        with self._transaction():
            place = self._place(run)
            row = self._run(run)
            if row.ended_utc_ns is not None:
                raise StoreError(f"{self.path}: run {run} has ended; begin a new run")
            last = self._last_segment(run)
            t_ns = _time_now(last, place, clock)
            if place.open_stretch != place.last_seq + 1:
                end_stretch(self._connection, run, place, place.last_t_ns)
                began = (place.last_seq + 1, place.last_t_ns)
                begin_stretch(self._connection, run, place, began, cause)
            segment = self._begin_segment(
                run, clock, last.segment + 1, (place.last_seq + 1, t_ns), cause
            )
        self._clocks[run], self._segments[run] = clock, segment
        return segment

    def segment(self, run: int) -> Segment:
        """The segment of a run that this writer began or resumed.

        A moment's `t_ns` is `began_t_ns` plus the run clock's time since `began_monotonic_ns`.
        """
        return self._segments[run]

    def write(self, entries: Sequence[Entry]) -> None:
        """Store a batch in one transaction.

        Rows of a run come in the order of their `seq`. What is stored already is skipped, so that a
        batch that may or may not be stored can be written again.
        """
        if not entries:
            return
        self._must_be_there()
        batch = Batch(self._connection, self._place)
        with self._transaction():
            batch.write(entries)
        with suppress(StoreError):
            # The batch is stored. A later batch seals what could not be sealed now.
            sealed = self._sealing.after_batch(len(entries), batch.open_rows)
            if sealed is not None:
                self._places.pop(sealed, None)

    def end_run(self, run: int, t_ns: int | None, why: str) -> bool:
        """Store the end of a run, and fold the write-ahead log into the file.

        Parameters
        ----------
        t_ns
            When; None for the last row's time (a run that an earlier recorder left unfinished).
        why
            In words, such as "ended by the operator".

        Returns
        -------
        bool
            True where the file now stands alone; False where a reader holds the log, so that
            only `close` or a later end folds it in.
        """
        self._must_be_there()
        clock = self._clocks.get(run)
        with self._transaction():
            place = self._place(run)
            ended_ns = place.last_t_ns if t_ns is None else t_ns
            # Without the run's clock, the newest row knows the wall clock best.
            utc_ns = place.last_utc_ns + ended_ns - place.last_t_ns
            if clock is not None:
                utc_ns = clock.utc_ns()
            end_stretch(self._connection, run, place, ended_ns)
            self._connection.execute(
                "UPDATE runs SET ended_utc_ns = ?, ended_t_ns = ?, ended_why = ? "
                "WHERE run = ? AND ended_utc_ns IS NULL",
                (utc_ns, ended_ns, str(why), run),
            )
        with suppress(StoreError):
            # The end is stored. A later batch seals what could not be sealed now.
            self._sealing.end_run(run)
        for known in (self._clocks, self._segments, self._places):
            known.pop(run, None)
        with store_errors(self.path):
            # As a script: `execute` would stop at the first page.
            self._connection.executescript(f"PRAGMA incremental_vacuum({PAGES_GIVEN_BACK})")
            busy = self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
        return not busy

    def unfinished_runs(self, supply: str) -> list[RunRow]:
        """The runs of a supply that have no end, the oldest first."""
        with store_errors(self.path):
            rows = self._connection.execute(
                RUNS.select("WHERE supply = ? AND ended_utc_ns IS NULL ORDER BY run"), (supply,)
            )
            return [RUNS.value(row) for row in rows.fetchall()]

    def take_requests(self, run: int) -> list[Request]:
        """The requests since the last call, the oldest first; each is returned once."""
        self._must_be_there()
        waiting = REQUESTS.select("WHERE run = ? AND taken_utc_ns IS NULL ORDER BY request")
        with store_errors(self.path):
            rows = self._connection.execute(waiting, (run,)).fetchall()
        if not rows:
            return []
        now_ns = self._clocks.get(run, self._clock).utc_ns()
        taken = []
        with self._transaction():
            for row in rows:
                number, _, _, kind, *_ = row
                # A screen of a newer version may ask for what this recorder does not know.
                is_known = kind in set(RequestKind)
                outcome = None if is_known else "not understood"
                self._connection.execute(
                    "UPDATE requests SET taken_utc_ns = ?, outcome = ? WHERE request = ?",
                    (now_ns, outcome, number),
                )
                if is_known:
                    taken.append(replace(REQUESTS.value(row), taken_utc_ns=now_ns))
        return taken

    def answer_request(self, request: Request, outcome: str) -> None:
        """Store the outcome of a request."""
        self._must_be_there()
        with self._transaction():
            self._connection.execute(
                "UPDATE requests SET outcome = ? WHERE request = ?", (outcome, request.request)
            )

    def put_back(self) -> bool:
        """Put a deleted or moved store back; returns whether it is at its place now.

        It holds everything that was committed. Another file at its place is left alone; call again
        once it is gone.
        """
        if self._file is not None:
            if self._identity() is not None:
                return self._identity() == self._file
            self._waiting_copy = copy_beside(self._connection, self.path)
            # Before anything lies at the place: closing removes the logs there by their names.
            self._file = None
            with suppress(sqlite3.Error):
                self._connection.close()
        if self._waiting_copy is not None:
            if not take_its_place(self._waiting_copy, self.path):
                return False
            self._waiting_copy = None
        self._connection = self._open().connection
        self._file = self._identity()
        self._places.clear()
        with store_errors(self.path):
            self._sealing = Sealing(self._connection, self.path, self._transaction)
        return True

    def _must_be_there(self) -> None:
        """SQLite writes into a deleted file without an error."""
        if self._file is None or self._identity() != self._file:
            raise gone(self.path)

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        try:
            with store_errors(self.path), atomic(self._connection):
                yield
        except BaseException:
            self._places.clear()
            raise

    def _begin_segment(
        self, run: int, clock: Clock, number: int, began: tuple[int, int], cause: str
    ) -> Segment:
        now_ns, utc_ns = clock.monotonic_ns(), clock.utc_ns()
        anchor = (now_ns, utc_ns)
        if isinstance(clock, SpedClock):
            anchor = (clock.anchor_monotonic_ns, clock.anchor_utc_ns)
        segment = Segment(
            run, number, boot_id(), os.getpid(), *began, utc_ns, now_ns, *anchor, cause
        )
        self._connection.execute(SEGMENTS.insert(), SEGMENTS.cells(segment))
        return segment

    def _last_segment(self, run: int) -> Segment:
        newest = SEGMENTS.select("WHERE run = ? ORDER BY segment DESC LIMIT 1")
        return SEGMENTS.value(self._connection.execute(newest, (run,)).fetchone())

    def _run(self, run: int) -> RunRow:
        return RUNS.value(self._connection.execute(RUNS.select("WHERE run = ?"), (run,)).fetchone())

    def _place(self, run: int) -> Progress:
        place = self._places.get(run)
        if place is None:
            place = self._places[run] = progress_of(self._connection, self.path, run)
        return place

    def _identity(self) -> tuple[int, int] | None:
        """Device and number of the file at the path; None where there is none."""
        try:
            status = self.path.stat()
        except OSError:
            return None
        return status.st_dev, status.st_ino


def _time_now(last: Segment, place: Progress, clock: Clock) -> int:
    """The run's `t_ns` at this moment, after its last row whatever the clocks say."""
    boot = boot_id()
    t_ns = last.began_t_ns + clock.monotonic_ns() - last.began_monotonic_ns
    if boot == "unknown" or boot != last.boot_id or t_ns <= place.last_t_ns:
        t_ns = place.last_t_ns + clock.utc_ns() - place.last_utc_ns
    return max(t_ns, place.last_t_ns + 1)


def _utc_offset_s(utc_ns: int) -> int:
    offset = datetime.fromtimestamp(utc_ns // 1_000_000_000, UTC).astimezone().utcoffset()
    return round(offset.total_seconds()) if offset is not None else 0
