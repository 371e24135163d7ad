"""The forwarder's tables in the store: what a server has taken, and what is still to be sent.

The forwarder is their only writer. It writes nothing else, in short transactions.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from monitor.store.failures import store_errors
from monitor.store.forward_rows import NO_END, Kind, Outcome, Piece, Stretch
from monitor.store.opening import atomic, open_existing
from monitor.store.tables import STRETCHES

BUSY_TIMEOUT_S = 1.0
MARGIN_S = 15.0
"""A server that was killed had lost up to 13 s of what it had taken (measured, two versions)."""


class ForwardLedger:
    """The forwarder's own tables, open for writing; serves one thread.

    Every method may raise a `StoreError`; nothing of the failed call is then in the file.

    Parameters
    ----------
    path
        A store that is there already.
    place
        Names the server: another place starts from the beginning.
    """

    def __init__(self, path: Path, place: str, busy_timeout_s: float = BUSY_TIMEOUT_S) -> None:
        self._path = path
        self._connection = open_existing(path, "rw", busy_timeout_s)
        try:
            with store_errors(path):
                # A power cut may take the last moves of the cursor: what they covered is sent
                # twice. So no commit here waits for the disk that the recorder needs.
                self._connection.execute("PRAGMA synchronous = NORMAL")
            with self._transaction():
                self._execute(
                    "INSERT INTO forward_targets (place) VALUES (?) ON CONFLICT DO NOTHING", place
                )
            self._target: int = self._cells(
                "SELECT target FROM forward_targets WHERE place = ?", place
            )[0][0]
        except BaseException:
            self._connection.close()
            raise

    def close(self) -> None:
        """Give the file back."""
        with store_errors(self._path):
            self._connection.close()

    def follow_runs(self) -> None:
        """Follow the runs that are new, and let what follows an ended run end with it."""
        new = [
            run
            for (run,) in self._cells(
                "SELECT run FROM runs WHERE run NOT IN"
                " (SELECT run FROM forward_runs WHERE target = ?) ORDER BY run",
                self._target,
            )
        ]
        ended = (
            "FROM forward_stretches WHERE target = ? AND ends IS NULL AND kind <> 'mark'"
            " AND run IN (SELECT run FROM runs WHERE ended_utc_ns IS NOT NULL)"
        )
        has_ended = self._cells(f"SELECT count(*) {ended}", self._target)[0][0]
        if not new and not has_ended:
            return
        with self._transaction():
            for run in new:
                self._execute("INSERT INTO forward_runs VALUES (?, ?)", self._target, run)
                for kind in Kind:
                    self._insert(run, kind, 0, None, is_again=False)
            # A text may be added to a mark for as long as the store is kept, so marks stay open.
            self._execute(
                f"UPDATE forward_stretches SET ends = ? WHERE stretch IN (SELECT stretch {ended})",
                NO_END,
                self._target,
            )

    def live(self) -> list[Stretch]:
        """The stretches that follow runs, without those of alarms and marks that have nothing."""
        stretches = self._stretches(
            "ends IS NULL AND (kind IN ('reading', 'estimate')"
            " OR kind = 'alarm' AND next_place <"
            "   (SELECT count(*) FROM alarms WHERE alarms.run = forward_stretches.run)"
            " OR kind = 'mark' AND next_place <"
            "   (SELECT count(*) FROM marks WHERE marks.run = forward_stretches.run)"
            " + (SELECT count(*) FROM mark_texts WHERE mark_texts.run = forward_stretches.run))",
        )
        order = list(Kind)
        return sorted(stretches, key=lambda stretch: (order.index(stretch.kind), stretch.run))

    def waiting(self, is_again: bool, count: int) -> list[Stretch]:
        """The oldest stretches that lie back, of those sent once before or of the others."""
        return self._stretches(
            f"ends IS NOT NULL AND is_again = {is_again:d} ORDER BY stretch LIMIT {count:d}"
        )

    def mark_texts(self, run: int) -> int:
        """How many texts the marks of a run have had so far; each makes a mark worth sending."""
        count: int = self._cells(
            "SELECT (SELECT count(*) FROM marks WHERE run = :run)"
            " + (SELECT count(*) FROM mark_texts WHERE run = :run)",
            run,
        )[0][0]
        return count

    def split(self, stretch: Stretch, place: int) -> None:
        """Leave what lies before a place for later, and follow the run from there."""
        with self._transaction():
            self._execute(
                "UPDATE forward_stretches SET next_place = ? WHERE stretch = ?",
                place,
                stretch.stretch,
            )
            self._insert(stretch.run, stretch.kind, stretch.next_place, place, is_again=False)

    def settle(
        self, pieces: Iterable[Piece], outcome: Outcome, utc_ns: int, monotonic_ns: int
    ) -> None:
        """Move the cursor past what is dealt with, and keep what became of it."""
        with self._transaction():
            for piece in pieces:
                self._move(piece, monotonic_ns)
            self._execute(
                "DELETE FROM forward_acknowledged WHERE target = ? AND monotonic_ns < ?",
                self._target,
                monotonic_ns - round(MARGIN_S * 1e9),
            )
            self._execute(
                "UPDATE forward_targets SET sent = sent + ?, left_out = left_out + ?,"
                " too_old = too_old + ?, last_ok_utc_ns = coalesce(?, last_ok_utc_ns)"
                " WHERE target = ?",
                outcome.sent,
                outcome.left_out,
                outcome.too_old,
                utc_ns if outcome.sent else None,
                self._target,
            )
            for line, words in outcome.quarantined:
                self._execute(
                    "INSERT INTO forward_quarantine (target, utc_ns, line, words)"
                    " VALUES (?, ?, ?, ?) ON CONFLICT DO UPDATE SET words = excluded.words",
                    self._target,
                    utc_ns,
                    line,
                    words,
                )

    def distrust(self) -> None:
        """Send again what was taken within `MARGIN_S` of the last success: it may be lost."""
        taken = self._cells(
            "SELECT run, kind, began, ends FROM forward_acknowledged WHERE target = ?"
            " ORDER BY run, kind, began",
            self._target,
        )
        if not taken:
            return
        with self._transaction():
            for run, kind, began, ends in _joined(taken):
                self._insert(run, Kind(kind), began, ends, is_again=True)
            self._execute("DELETE FROM forward_acknowledged WHERE target = ?", self._target)

    def note_trouble(self, words: str, utc_ns: int) -> None:
        """Keep the last failure in words."""
        with self._transaction():
            self._execute(
                "UPDATE forward_targets SET trouble = ?, trouble_utc_ns = ? WHERE target = ?",
                words,
                utc_ns,
                self._target,
            )

    def fold_log(self) -> None:
        """Fold the write-ahead log into the file, where no run goes on and no reader holds it."""
        if not self._cells("SELECT count(*) FROM runs WHERE ended_utc_ns IS NULL")[0][0]:
            self._cells("PRAGMA wal_checkpoint(TRUNCATE)")

    def _move(self, piece: Piece, monotonic_ns: int) -> None:
        stretch = piece.stretch
        is_done = stretch.ends is not None and (piece.is_last or piece.until >= stretch.ends)
        if is_done:
            self._execute("DELETE FROM forward_stretches WHERE stretch = ?", stretch.stretch)
        else:
            self._execute(
                "UPDATE forward_stretches SET next_place = ? WHERE stretch = ?",
                piece.until,
                stretch.stretch,
            )
        if piece.until > stretch.next_place:
            self._execute(
                "INSERT INTO forward_acknowledged (target, run, kind, began, ends, monotonic_ns)"
                " VALUES (?, ?, ?, ?, ?, ?)",
                self._target,
                stretch.run,
                stretch.kind.value,
                stretch.next_place,
                piece.until,
                monotonic_ns,
            )

    def _insert(self, run: int, kind: Kind, began: int, ends: int | None, is_again: bool) -> None:
        self._execute(
            "INSERT INTO forward_stretches (target, run, kind, next_place, ends, is_again)"
            " VALUES (?, ?, ?, ?, ?, ?)",
            self._target,
            run,
            kind.value,
            began,
            ends,
            int(is_again),
        )

    def _stretches(self, which: str) -> list[Stretch]:
        rows = self._cells(STRETCHES.select(f"WHERE target = ? AND {which}"), self._target)
        return [STRETCHES.value(row) for row in rows]

    def _execute(self, sql: str, *values: str | int | None) -> None:
        self._connection.execute(sql, values)

    def _cells(self, sql: str, *values: str | int | None) -> list[tuple[Any, ...]]:
        with store_errors(self._path):
            return self._connection.execute(sql, values).fetchall()

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        with store_errors(self._path), atomic(self._connection):
            yield


def _joined(taken: list[tuple[int, str, int, int]]) -> Iterator[tuple[int, str, int, int]]:
    """Ranges in order, with those that touch made one."""
    open_range: tuple[int, str, int, int] | None = None
    for run, kind, began, ends in taken:
        if open_range is not None:
            if open_range[:2] == (run, kind) and began <= open_range[3]:
                open_range = (run, kind, open_range[2], max(open_range[3], ends))
                continue
            yield open_range
        open_range = (run, kind, began, ends)
    if open_range is not None:
        yield open_range
