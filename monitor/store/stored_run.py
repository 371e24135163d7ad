"""Reads one run of a store, finished or not: rows, charts and estimates.

Each call takes one or more short transactions, so that a reader never holds the writer up.
"""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from monitor.model.estimate import Estimate
from monitor.model.run import GapRow, RunSummary
from monitor.model.sample import Gap, Sample
from monitor.store.charting import Chart, pieces_of
from monitor.store.columns import Column, columns_of
from monitor.store.estimate_rows import newest_estimate, page_of_estimates
from monitor.store.failures import damaged
from monitor.store.mapping import Row
from monitor.store.run_book import RunBook
from monitor.store.run_rows import (
    LAST_NS,
    last_place,
    newest,
    page_of_cells,
    page_of_rows,
    seqs_between,
)
from monitor.store.sealed import what_is_unsound
from monitor.store.tables import ESTIMATES, GAPS

if TYPE_CHECKING:
    from monitor.store.series import Series


class StoredRun(RunBook):
    """One run; made by `Store.run`.

    All methods may raise `StoreError`. Times are seconds since the run began; both ends of a
    stretch belong to it, and None is the run's own end.
    """

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
                page = page_of_rows(connection, self.run, after_seq)
            if not page:
                return
            yield from page
            after_seq = page[-1].seq

    def pages(self, after_seq: int = -1) -> Iterator[list[Row]]:
        """The same as pages of plain tuples of SAMPLE_COLUMNS: for exports of millions of rows."""
        while True:
            with self._look() as connection:
                page = page_of_cells(connection, self.run, after_seq)
            if not page:
                return
            yield page
            after_seq = page[-1][0]

    def samples(self, from_s: float | None = None, to_s: float | None = None) -> "Series":
        """The rows of a stretch as numpy arrays.

        Examples
        --------
        See docs/EXPORTS.md.
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
                GAPS,
                "WHERE run = ? AND began_t_ns <= ? AND coalesce(ended_t_ns, ?) > ?",
                *(to_ns, LAST_NS, from_ns),
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
                page = page_of_estimates(connection, self.run, after_seq)
                estimates = [
                    ESTIMATES.value(cells)
                    for cells in page
                    if cells[0] <= to_seq and from_ns <= cells[1] <= to_ns
                ]
            if not page:
                return
            yield from estimates
            after_seq = page[-1][0]

    def latest_estimate(self) -> Estimate | None:
        """The newest stored estimate; None before the first."""
        with self._look() as connection:
            cells = newest_estimate(connection, self.run)
            return None if cells is None else ESTIMATES.value(cells)

    def _last_t_ns(self) -> int:
        with self._look() as connection:
            return last_place(connection, self.run)[1]


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
