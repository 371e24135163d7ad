"""Entries of any runs in, rows of the right tables out; inside a transaction of the writer's."""

import sqlite3
from collections.abc import Callable, Sequence

from monitor.model.alarm import AlarmEvent
from monitor.model.estimate import Estimate
from monitor.model.event import Mark, Prompt, SettingChange, Status
from monitor.model.explanation import Explanation
from monitor.model.sample import Gap, Sample
from monitor.store.blocks import close_blocks, redo_blocks
from monitor.store.encoding import (
    ALARM_COLUMNS,
    CHANGE_COLUMNS,
    ESTIMATE_COLUMNS,
    EXPLANATION_COLUMNS,
    MARK_COLUMNS,
    PROMPT_COLUMNS,
    SAMPLE_COLUMNS,
    STATUS_COLUMNS,
    Cell,
    alarm_cells,
    change_cells,
    estimate_cells,
    explanation_cells,
    gap_cells,
    mark_cells,
    places,
    prompt_cells,
    sample_cells,
    status_cells,
)
from monitor.store.progress import Progress, begin_stretch, end_stretch

Thing = Sample | Gap | Estimate | AlarmEvent | Prompt | Explanation | Mark | Status | SettingChange
Entry = tuple[int, Thing]
"""Number of the run, and one thing that belongs to it."""

Cells = list[tuple[Cell, ...]]


def _insert(table: str, columns: str) -> str:
    """An insert that passes over what is there already, so that a batch can be written twice."""
    columns = f"run, {columns}"
    return f"INSERT INTO {table} ({columns}) VALUES ({places(columns)}) ON CONFLICT DO NOTHING"


INSERT_SAMPLE = _insert("samples", SAMPLE_COLUMNS)
INSERT_ESTIMATE = _insert("estimates", ESTIMATE_COLUMNS)
INSERT_ALARM = _insert("alarms", ALARM_COLUMNS)
INSERT_EXPLANATION = _insert("explanations", EXPLANATION_COLUMNS)
INSERT_PROMPT = _insert("prompts", PROMPT_COLUMNS)
INSERT_MARK = _insert("marks", MARK_COLUMNS)
INSERT_CHANGE = _insert("setting_changes", CHANGE_COLUMNS)
REPLACE_STATUS = f"REPLACE INTO status (run, {STATUS_COLUMNS}) VALUES (?, ?, ?, ?, ?)"


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
        estimates: Cells = []
        alarms: Cells = []
        prompts: Cells = []
        explanations: Cells = []
        marks: Cells = []
        statuses: Cells = []
        changes: Cells = []
        for run, entry in entries:
            if isinstance(entry, Sample):
                self._add_sample(run, entry)
            elif isinstance(entry, Estimate):
                if entry.seq > self._place(run).sealed_to:
                    estimates.append(estimate_cells(run, entry))
            elif isinstance(entry, Gap):
                self._add_gap(run, entry)
            elif isinstance(entry, AlarmEvent):
                alarms.append(alarm_cells(run, entry))
            elif isinstance(entry, Prompt):
                prompts.append(prompt_cells(run, entry))
            elif isinstance(entry, Explanation):
                explanations.append(explanation_cells(run, entry))
            elif isinstance(entry, Status):
                statuses.append(status_cells(run, entry))
            elif isinstance(entry, SettingChange):
                changes.append(change_cells(run, entry))
            else:
                marks.append(mark_cells(run, entry))
        for statement, cells in (
            (INSERT_SAMPLE, self._samples),
            (INSERT_ESTIMATE, estimates),
            (INSERT_ALARM, alarms),
            (INSERT_PROMPT, prompts),
            (INSERT_EXPLANATION, explanations),
            (INSERT_MARK, marks),
            (REPLACE_STATUS, statuses),
            (INSERT_CHANGE, changes),
        ):
            if cells:
                self._connection.executemany(statement, cells)
        self._connection.executemany(
            "UPDATE tallies SET answered = ?, missing = ? WHERE run = ?",
            [(one.answered, one.missing, run) for run, one in self._touched.items()],
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
            # What it repeats may be waiting in this very batch.
            self._connection.executemany(INSERT_SAMPLE, self._samples)
            self._samples.clear()
        return self._connection.execute(INSERT_SAMPLE, cells).rowcount == 1
