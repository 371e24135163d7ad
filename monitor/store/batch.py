"""Writes one batch: readings and events of any runs, each into its table."""

import sqlite3
from collections.abc import Callable, Sequence
from typing import Any

from monitor.model.alarm import AlarmEvent
from monitor.model.estimate import Estimate
from monitor.model.event import Mark, Prompt, SettingChange, Status
from monitor.model.explanation import Explanation
from monitor.model.sample import Gap, Sample
from monitor.store.blocks import close_blocks, redo_blocks
from monitor.store.mapping import Cell, Table, places
from monitor.store.progress import Progress, begin_stretch, end_stretch
from monitor.store.tables import (
    ALARMS,
    ESTIMATES,
    EXPLANATIONS,
    MARKS,
    PROMPTS,
    SAMPLE_COLUMNS,
    SETTING_CHANGES,
    STATUSES,
    gap_cells,
    sample_cells,
)

Thing = Sample | Gap | Estimate | AlarmEvent | Prompt | Explanation | Mark | Status | SettingChange
Entry = tuple[int, Thing]
"""Number of a run, and a reading or event of it."""

INSERT_SAMPLE = (
    f"INSERT INTO samples (run, {SAMPLE_COLUMNS}) VALUES (?, {places(SAMPLE_COLUMNS)})"
    " ON CONFLICT DO NOTHING"
)
"""Skips a row that is stored already, so that a batch can be written twice."""

_TABLES: dict[type, Table[Any]] = {
    Estimate: ESTIMATES,
    AlarmEvent: ALARMS,
    Prompt: PROMPTS,
    Explanation: EXPLANATIONS,
    Mark: MARKS,
    Status: STATUSES,
    SettingChange: SETTING_CHANGES,
}
_INSERTS = {
    kind: f"{table.insert('run')} ON CONFLICT DO NOTHING" for kind, table in _TABLES.items()
}
_INSERTS[Status] = STATUSES.insert("run", "REPLACE")

Cells = list[tuple[Cell, ...]]


class Batch:
    """One transaction's worth of entries.

    Parameters
    ----------
    connection
        In a transaction that the caller began and will end.
    progress
        Gives a run's place, which the batch moves on. After a rollback it is out of date.
    """

    def __init__(self, connection: sqlite3.Connection, progress: Callable[[int], Progress]) -> None:
        self._connection = connection
        self._progress = progress
        self._touched: dict[int, Progress] = {}
        self._last_before: dict[int, int] = {}
        self._late: list[tuple[int, int]] = []
        self._samples: Cells = []

    def write(self, entries: Sequence[Entry]) -> None:
        """Put all entries into their tables."""
        others: dict[type, Cells] = {kind: [] for kind in _TABLES}
        for run, entry in entries:
            if isinstance(entry, Sample):
                self._add_sample(run, entry)
            elif isinstance(entry, Gap):
                self._add_gap(run, entry)
            elif not isinstance(entry, Estimate) or entry.seq > self._place(run).sealed_to:
                kind = type(entry)
                others[kind].append((run, *_TABLES[kind].cells(entry)))
        if self._samples:
            self._connection.executemany(INSERT_SAMPLE, self._samples)
        for kind, cells in others.items():
            if cells:
                self._connection.executemany(_INSERTS[kind], cells)
        self._connection.executemany(
            "UPDATE tallies SET answered = ?, missing = ? WHERE run = ?",
            [(place.answered, place.missing, run) for run, place in self._touched.items()],
        )
        for run, place in self._touched.items():
            close_blocks(self._connection, run, self._last_before[run], place.last_seq)
        for run, seq in self._late:
            redo_blocks(self._connection, run, seq, self._touched[run].last_seq)

    @property
    def open_rows(self) -> dict[int, int]:
        """About how many rows of each run of the batch are not sealed."""
        return {run: place.last_seq - place.sealed_to for run, place in self._touched.items()}

    def _add_sample(self, run: int, sample: Sample) -> None:
        place = self._touched.get(run) or self._place(run)
        seq = sample.seq
        if seq <= place.last_seq:
            if seq > place.sealed_to and self._is_new(sample_cells(run, sample), is_late=True):
                place.answered += 1
                self._late.append((run, seq))
            return
        self._samples.append(sample_cells(run, sample))
        place.answered += 1
        place.last_seq, place.last_t_ns, place.last_utc_ns = seq, sample.t_ns, sample.utc_ns
        if place.open_stretch is not None:
            end_stretch(self._connection, run, place, sample.t_ns)

    def _add_gap(self, run: int, gap: Gap) -> None:
        place = self._place(run)
        is_late = gap.seq <= place.last_seq
        if gap.seq <= place.sealed_to or not self._is_new(gap_cells(run, gap), is_late):
            return
        place.missing += 1
        if is_late:
            self._late.append((run, gap.seq))
            return
        place.last_seq, place.last_t_ns, place.last_utc_ns = gap.seq, gap.t_ns, gap.utc_ns
        if place.open_stretch is None:
            began = (gap.seq, gap.t_ns)
            begin_stretch(self._connection, run, place, began, str(gap.reason), gap.detail)
        self._connection.execute(
            "UPDATE gaps SET polls = polls + 1 WHERE run = ? AND began_seq = ?",
            (run, place.open_stretch),
        )

    def _place(self, run: int) -> Progress:
        place = self._touched.get(run)
        if place is None:
            place = self._touched[run] = self._progress(run)
            self._last_before[run] = place.last_seq
        return place

    def _is_new(self, cells: tuple[Cell, ...], is_late: bool) -> bool:
        if is_late and self._samples:
            # The row that it repeats may still wait in this batch.
            self._connection.executemany(INSERT_SAMPLE, self._samples)
            self._samples.clear()
        return self._connection.execute(INSERT_SAMPLE, cells).rowcount == 1
