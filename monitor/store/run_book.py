"""What a run holds beside its readings: alarms, marks, prompts, gaps, the job card."""

import sqlite3
from contextlib import AbstractContextManager
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from monitor.base.errors import NoSuchRun
from monitor.model.alarm import AlarmEvent, Priority
from monitor.model.card import JobCard
from monitor.model.entry import Entry
from monitor.model.event import Mark, Prompt, SettingChange, Status
from monitor.model.explanation import Explanation
from monitor.model.outcome import Outcome
from monitor.model.request import Request, RequestKind
from monitor.model.run import GapRow, RunRow, Segment
from monitor.store.failures import damaged, store_errors
from monitor.store.job_rows import steps_of
from monitor.store.mapping import Row, Table
from monitor.store.run_rows import look
from monitor.store.tables import (
    ALARMS,
    BATH_ENTRIES,
    CARDS,
    EXPLANATIONS,
    GAPS,
    MARKS,
    OUTCOMES,
    PROMPTS,
    REQUESTS,
    RUNS,
    SEGMENTS,
    SETTING_CHANGES,
    STATUSES,
)

T = TypeVar("T")


class RunBook:
    """Reads what a run holds beside its readings; `StoredRun` adds these.

    All methods may raise `StoreError`.

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
        rows = self._read(RUNS)
        if not rows:
            raise NoSuchRun(f"{self._path}: holds no run {self.run}; see `bathvigil runs`")
        return rows[0]

    def segments(self) -> list[Segment]:
        """The stretches that one recorder each recorded."""
        return self._read(SEGMENTS, "WHERE run = ? ORDER BY segment")

    def alarms(self) -> list[AlarmEvent]:
        """Every change of every alarm, in order."""
        return self._read(ALARMS, "WHERE run = ? ORDER BY event")

    def standing_alarms(self) -> list[AlarmEvent]:
        """The newest event of each alarm that is not normal; by priority, then the oldest first."""
        events = self._read(
            ALARMS,
            "WHERE event IN (SELECT max(event) FROM alarms WHERE run = ? GROUP BY alarm)"
            " AND state <> 'normal' ORDER BY event",
        )
        order = list(Priority)
        return sorted(events, key=lambda event: order.index(event.priority))

    def explanations(self) -> list[Explanation]:
        """What made the strip stop, each time, in order."""
        return self._read(EXPLANATIONS, "WHERE run = ? ORDER BY seq")

    def prompts(self) -> list[Prompt]:
        """What the operator was prompted to do, in order."""
        return self._read(PROMPTS, "WHERE run = ? ORDER BY seq")

    def marks(self) -> list[Mark]:
        """The operator's marks, in order; texts that were added later stand behind the first."""
        marks = self._read(MARKS, "WHERE run = ? ORDER BY number")
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
        """The run's job card as it was last corrected; None where there is none."""
        rows = self._read(CARDS, "WHERE run = ? ORDER BY card DESC LIMIT 1")
        return rows[0] if rows else None

    def steps(self) -> list[tuple[int, str]]:
        """The steps of the job by the run's cards, each with the UTC (ns) from which it counted."""
        with self._look() as connection:
            return steps_of(connection, self.run)

    def bath(self) -> str:
        """The bath of the card, or else of the settings; "" where neither names one."""
        card = self.card()
        return (card.bath if card else "") or self.row.facts.bath

    def ledger_then(self) -> list[Entry]:
        """The entries of the run's bath of before the run, corrected ones too, as written down."""
        chosen = BATH_ENTRIES.select("WHERE bath = ? AND at_utc_ns <= ? ORDER BY entry")
        return self._values(BATH_ENTRIES, chosen, (self.bath(), self.row.began_utc_ns))

    def outcome(self) -> Outcome | None:
        """How the strip turned out, as last corrected; None where it was not entered."""
        rows = self._read(OUTCOMES, "WHERE run = ? ORDER BY outcome DESC LIMIT 1")
        return rows[0] if rows else None

    def gaps(self) -> list[GapRow]:
        """The stretches without answers, in order."""
        return self._read(GAPS, "WHERE run = ? ORDER BY began_seq")

    def statuses(self) -> dict[str, Status]:
        """The newest state of each part of the recorder, such as "sound", by name."""
        rows = self._read(STATUSES, "WHERE run = ? ORDER BY name")
        return {status.name: status for status in rows}

    def setting_changes(self) -> list[SettingChange]:
        """Settings, and the machine's clock, that were changed during the run, in order."""
        return self._read(SETTING_CHANGES, "WHERE run = ? ORDER BY t_ns, name")

    def requests(self, newest: int = -1) -> list[Request]:
        """The requests to the recorder and their outcomes, in order.

        Parameters
        ----------
        newest
            Only so many of the newest; -1 for all.
        """
        # A newer screen may have asked for what this version does not know.
        known = ", ".join(f"'{kind}'" for kind in RequestKind)
        return self._read(
            REQUESTS,
            "WHERE request IN (SELECT request FROM requests WHERE run = ?"
            f" ORDER BY request DESC LIMIT ?) AND kind IN ({known}) ORDER BY request",
            newest,
        )

    def _look(self) -> AbstractContextManager[sqlite3.Connection]:
        return look(self._connection, self._path)

    def _read(
        self, table: Table[T], condition: str = "WHERE run = ?", *values: str | float
    ) -> list[T]:
        """The values of a table; the run is the condition's first parameter."""
        return self._values(table, table.select(condition), (self.run, *values))

    def _values(self, table: Table[T], sql: str, values: tuple[object, ...]) -> list[T]:
        rows = self._cells(sql, values)
        try:
            return [table.value(row) for row in rows]
        except ValueError as error:
            raise damaged(self._path, str(error)) from error

    def _cells(self, sql: str, values: "tuple[object, ...] | dict[str, object]") -> list[Row]:
        with store_errors(self._path):
            return self._connection.execute(sql, values).fetchall()
