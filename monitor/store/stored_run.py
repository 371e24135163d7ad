"""One run of a store, live or long over, to be read: its rows, charts, alarms and marks.

Each call is one short transaction or several, so that no reader ever holds the writer up.
"""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from monitor.alarms.alarm import AlarmEvent, Priority
from monitor.errors import NoSuchRun
from monitor.estimating.estimate import Estimate
from monitor.explaining.explanation import Explanation
from monitor.job.card import JobCard
from monitor.job.outcome import Outcome
from monitor.sample import Gap, Sample
from monitor.store.charting import Chart, pieces_of
from monitor.store.columns import Column, columns_of
from monitor.store.decoding import (
    Row,
    alarm_of,
    change_of,
    estimate_of,
    explanation_of,
    gap_row_of,
    mark_of,
    prompt_of,
    request_of,
    run_of,
    segment_of,
    status_of,
)
from monitor.store.encoding import (
    ALARM_COLUMNS,
    CHANGE_COLUMNS,
    EXPLANATION_COLUMNS,
    GAP_COLUMNS,
    PROMPT_COLUMNS,
    REQUEST_COLUMNS,
    RUN_COLUMNS,
    SEGMENT_COLUMNS,
    STATUS_COLUMNS,
)
from monitor.store.estimate_rows import newest_estimate, page_of_estimates
from monitor.store.failures import damaged, told_clearly
from monitor.store.job_rows import CARD_COLUMNS, OUTCOME_COLUMNS, card_of, outcome_of, steps_of
from monitor.store.rows import (
    GapRow,
    Mark,
    Prompt,
    Request,
    RequestKind,
    RunRow,
    RunSummary,
    Segment,
    SettingChange,
    Status,
)
from monitor.store.run_rows import (
    LAST_NS,
    last_place,
    look,
    newest,
    page_of_cells,
    page_of_rows,
    seqs_between,
)
from monitor.store.sealed import what_is_unsound

if TYPE_CHECKING:
    from monitor.store.series import Series

T = TypeVar("T")


class StoredRun:
    """One run; made by `Store.run`.

    All methods may raise `StoreError`. Times are seconds since the run began; both ends of a
    stretch belong to it, and None is the run's own end.

    Parameters
    ----------
    connection, path
        An open store.
    run
        Number of the run.
    """

    def __init__(self, connection: sqlite3.Connection, path: Path, run: int) -> None:
        self._connection = connection
        self._path = path
        self.run = run

    @property
    def row(self) -> RunRow:
        """The run's facts, and its end if it has come."""
        rows = self._read(run_of, f"SELECT {RUN_COLUMNS} FROM runs WHERE run = ?", self.run)
        if not rows:
            raise NoSuchRun(f"{self._path}: holds no run {self.run}; see `bathvigil runs`")
        return rows[0]

    def segments(self) -> list[Segment]:
        """The stretches that one recorder each recorded."""
        return self._read(
            segment_of,
            f"SELECT {SEGMENT_COLUMNS} FROM segments WHERE run = ? ORDER BY segment",
            self.run,
        )

    def summary(self) -> RunSummary:
        """The run's figures, whole or so far; without counting rows.

        Charge and coverage are those of the newest stored estimate; before the first, nothing
        is passed and nothing covered.
        """
        ((answered, missing, gaps, alarms),) = self._cells(
            "SELECT (SELECT answered FROM tallies WHERE run = :run),"
            " (SELECT missing FROM tallies WHERE run = :run),"
            " (SELECT count(*) FROM gaps WHERE run = :run),"
            " (SELECT count(*) FROM alarms WHERE run = :run AND change = 'raised')",
            {"run": self.run},
        )
        ended_ns = self.row.ended_t_ns
        estimate = self.latest_estimate()
        return RunSummary(
            run=self.run,
            seconds=(self._last_t_ns() if ended_ns is None else ended_ns) / 1e9,
            samples=answered or 0,
            missing=missing or 0,
            gaps=gaps,
            amp_hours=0.0 if estimate is None else estimate.charge.amp_hours,
            coverage=0.0 if estimate is None else estimate.charge.coverage,
            alarms=alarms,
        )

    def last(self) -> Sample | Gap | None:
        """The newest row; None before the first."""
        with self._look() as connection:
            return newest(connection, self.run)

    def what_is_unsound(self, *, rows_too: bool = True) -> str | None:
        """Whether the rows are still those that were recorded; None if so, else what is wrong.

        Parameters
        ----------
        rows_too
            Read all sealed rows, instead of comparing the digests that were stored with them.
        """
        with self._look() as connection:
            return what_is_unsound(connection, self.run, rows_too=rows_too)

    def rows(self, after_seq: int = -1) -> Iterator[Sample | Gap]:
        """All rows behind a `seq`, in order, without holding them all.

        A missing poll has the driver's whole message as its detail only where it begins a stretch
        without answers.
        """
        while True:
            with self._look() as connection:
                found = page_of_rows(connection, self.run, after_seq)
            if not found:
                return
            yield from found
            after_seq = found[-1].seq

    def pages(self, after_seq: int = -1) -> Iterator[list[Row]]:
        """The same as pages of plain tuples of SAMPLE_COLUMNS: for exports of millions of rows."""
        while True:
            with self._look() as connection:
                found = page_of_cells(connection, self.run, after_seq)
            if not found:
                return
            yield found
            after_seq = found[-1][0]

    def samples(self, from_s: float | None = None, to_s: float | None = None) -> "Series":
        """The rows of a stretch as numpy arrays.

        Examples
        --------
        See README, "For notebooks".
        """
        from monitor.store.series import joined, series_of_cells

        from_ns, to_ns = _stretch_ns(from_s, to_s)
        with self._look() as connection:
            first_seq, last_seq = seqs_between(connection, self.run, from_ns, to_ns)
        parts = []
        for page in self.pages(first_seq - 1):
            try:
                parts.append(series_of_cells(page).between(from_ns, to_ns))
            except OverflowError as error:
                raise damaged(self._path, f"a code that nobody knows ({error})") from error
            if page[-1][0] >= last_seq:
                break
        return joined(parts)

    def columns(
        self, count: int, from_s: float | None = None, to_s: float | None = None
    ) -> list[Column]:
        """A stretch laid on `count` columns of equal width, each with its lowest, highest and mean.

        Where columns have many rows they are read from blocks: a value may then stand one column
        too far left, and never disappears.

        Raises
        ------
        ValueError
            `count` is less than one, or the stretch ends before it begins.
        """
        if count < 1 or (to_s is not None and to_s < (from_s or 0.0)):
            raise ValueError(f"no {count} columns from {from_s} s to {to_s} s")
        with self._look() as connection:
            last_seq, last_t_ns = last_place(connection, self.run)
            from_ns = 0 if from_s is None else round(from_s * 1e9)
            to_ns = max(last_t_ns if to_s is None else round(to_s * 1e9), from_ns)
            width_ns = max(-(-(to_ns - from_ns) // count), 1)
            gaps = self._read(
                gap_row_of,
                f"SELECT {GAP_COLUMNS} FROM gaps WHERE run = ? AND began_t_ns <= ? "
                "AND coalesce(ended_t_ns, ?) > ?",
                *(self.run, to_ns, LAST_NS, from_ns),
            )
            chart = Chart(self.run, from_ns, to_ns, width_ns, count, _ends_of_holes(gaps, width_ns))
            first, last = seqs_between(connection, self.run, from_ns, to_ns)
            pieces = list(
                pieces_of(connection, chart, max(first, 0), min(last, last_seq) + 1, last_seq)
            )
        return columns_of(pieces, gaps, from_ns, width_ns, count, last_t_ns)

    def estimates(
        self, from_s: float | None = None, to_s: float | None = None
    ) -> Iterator[Estimate]:
        """The stored estimates of a stretch, in order; about one a second, and one per alarm.

        Of older rows there is one for five polls, and every one around what happened.
        """
        from_ns, to_ns = _stretch_ns(from_s, to_s)
        with self._look() as connection:
            from_seq, to_seq = seqs_between(connection, self.run, from_ns, to_ns)
        after_seq = from_seq - 1
        while after_seq < to_seq:
            with self._look() as connection:
                found = page_of_estimates(connection, self.run, after_seq)
            if not found:
                return
            for cells in found:
                if cells[0] <= to_seq and from_ns <= cells[1] <= to_ns:
                    yield estimate_of(cells)
            after_seq = found[-1][0]

    def latest_estimate(self) -> Estimate | None:
        """The newest stored estimate; None before the first."""
        with self._look() as connection:
            cells = newest_estimate(connection, self.run)
        return None if cells is None else estimate_of(cells)

    def alarms(self) -> list[AlarmEvent]:
        """Every change of every alarm, in order."""
        return self._read(
            alarm_of, f"SELECT {ALARM_COLUMNS} FROM alarms WHERE run = ? ORDER BY event", self.run
        )

    def standing_alarms(self) -> list[AlarmEvent]:
        """The newest event of each alarm that is not normal; by priority, then the oldest first."""
        events = self._read(
            alarm_of,
            f"SELECT {ALARM_COLUMNS} FROM alarms WHERE event IN"
            " (SELECT max(event) FROM alarms WHERE run = ? GROUP BY alarm)"
            " AND state <> 'normal' ORDER BY event",
            self.run,
        )
        order = list(Priority)
        return sorted(events, key=lambda event: order.index(event.priority))

    def explanations(self) -> list[Explanation]:
        """What made the strip stop, each time, in order."""
        return self._read(
            explanation_of,
            f"SELECT {EXPLANATION_COLUMNS} FROM explanations WHERE run = ? ORDER BY seq",
            self.run,
        )

    def prompts(self) -> list[Prompt]:
        """What the operator was prompted to do, in order."""
        return self._read(
            prompt_of, f"SELECT {PROMPT_COLUMNS} FROM prompts WHERE run = ? ORDER BY seq", self.run
        )

    def marks(self) -> list[Mark]:
        """The operator's marks, in order; texts that were added later stand behind the first."""
        marks = self._read(
            mark_of,
            "SELECT number, t_ns, utc_ns, text FROM marks WHERE run = ? ORDER BY number",
            self.run,
        )
        added: dict[int, list[str]] = {}
        for number, text in self._cells(
            "SELECT number, text FROM mark_texts WHERE run = ? ORDER BY rowid", (self.run,)
        ):
            added.setdefault(number, []).append(text)
        return [
            replace(mark, text="; ".join(filter(None, [mark.text, *added.get(mark.number, [])])))
            for mark in marks
        ]

    def card(self) -> JobCard | None:
        """The run's job card as it was last corrected; None where nobody filled one in."""
        rows = self._read(
            card_of,
            f"SELECT {CARD_COLUMNS} FROM job_cards WHERE run = ? ORDER BY card DESC LIMIT 1",
            self.run,
        )
        return rows[0] if rows else None

    def steps(self) -> list[tuple[int, str]]:
        """From when on (UTC in ns) which step of the job was in force, by the run's cards."""
        with self._look() as connection:
            return steps_of(connection, self.run)

    def outcome(self) -> Outcome | None:
        """How the strip turned out, as it was last told; None where nobody did."""
        rows = self._read(
            outcome_of,
            f"SELECT {OUTCOME_COLUMNS} FROM outcomes WHERE run = ? ORDER BY outcome DESC LIMIT 1",
            self.run,
        )
        return rows[0] if rows else None

    def gaps(self) -> list[GapRow]:
        """The stretches without answers, in order."""
        return self._read(
            gap_row_of,
            f"SELECT {GAP_COLUMNS} FROM gaps WHERE run = ? ORDER BY began_seq",
            self.run,
        )

    def statuses(self) -> dict[str, Status]:
        """How the recorder's own parts stand, such as "sound", by name; the newest word on each."""
        rows = self._read(
            status_of, f"SELECT {STATUS_COLUMNS} FROM status WHERE run = ? ORDER BY name", self.run
        )
        return {status.name: status for status in rows}

    def setting_changes(self) -> list[SettingChange]:
        """Settings, and the machine's clock, that were changed during the run, in order."""
        return self._read(
            change_of,
            f"SELECT {CHANGE_COLUMNS} FROM setting_changes WHERE run = ? ORDER BY t_ns, name",
            self.run,
        )

    def requests(self, newest: int = -1) -> list[Request]:
        """What was asked of the recorder and what became of it, in order.

        Parameters
        ----------
        newest
            No more than so many, the newest; -1 for all.
        """
        asked = self._cells(
            f"SELECT {REQUEST_COLUMNS} FROM requests WHERE request IN"
            " (SELECT request FROM requests WHERE run = ? ORDER BY request DESC LIMIT ?)"
            " ORDER BY request",
            (self.run, newest),
        )
        # A newer screen may have asked for what this version does not know.
        return [request_of(cells) for cells in asked if cells[3] in set(RequestKind)]

    def _last_t_ns(self) -> int:
        with self._look() as connection:
            return last_place(connection, self.run)[1]

    def _look(self) -> AbstractContextManager[sqlite3.Connection]:
        return look(self._connection, self._path)

    def _read(self, decode: Callable[[Row], T], sql: str, *values: str | float | None) -> list[T]:
        rows = self._cells(sql, values)
        try:
            return [decode(row) for row in rows]
        except ValueError as error:
            raise damaged(self._path, str(error)) from error

    def _cells(self, sql: str, values: "tuple[object, ...] | dict[str, object]") -> list[Row]:
        with told_clearly(self._path):
            return self._connection.execute(sql, values).fetchall()


def _stretch_ns(from_s: float | None, to_s: float | None) -> tuple[int, int]:
    return (
        0 if from_s is None else round(from_s * 1e9),
        LAST_NS if to_s is None else round(to_s * 1e9),
    )


def _ends_of_holes(gaps: list[GapRow], width_ns: int) -> list[int]:
    """When stretches without answers that are as wide as a column begin and end, in order."""
    ends: list[int] = []
    for gap in gaps:
        if gap.ended_t_ns is None or gap.ended_t_ns - gap.began_t_ns >= width_ns:
            ends += [gap.began_t_ns, LAST_NS if gap.ended_t_ns is None else gap.ended_t_ns]
    return sorted(ends)
