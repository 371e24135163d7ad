"""Job cards and outcomes of runs. Screens add them, also while a recorder runs."""

import sqlite3
from pathlib import Path
from typing import TypeVar

from drivers.base.clock import Clock, SystemClock
from monitor.base.errors import StoreError
from monitor.model.card import JobCard
from monitor.model.card_text import card_as_text
from monitor.model.event import PromptName
from monitor.model.outcome import Outcome
from monitor.model.request import RequestKind
from monitor.store.mapping import Table
from monitor.store.opening import reading
from monitor.store.requests import adding, has_ended, insert_request
from monitor.store.tables import CARDS, OUTCOMES

T = TypeVar("T")


class JobBox:
    """Adds job cards and outcomes to a run, also after its end.

    Parameters
    ----------
    path
        The store.
    clock
        Dates what is added; the machine's clock where None.
    """

    def __init__(self, path: Path, clock: Clock | None = None) -> None:
        self._path = path
        self._clock = clock or SystemClock()

    def put_card(self, run: int, card: JobCard) -> None:
        """Add the run's job card, or its correction; while it goes on the recorder takes it up.

        Raises
        ------
        StoreError
            The run is not there, or the store cannot be written.
        """
        self._add(CARDS, run, card, asks=card_as_text(card))

    def put_outcome(self, run: int, outcome: Outcome) -> None:
        """Add how a strip turned out, or a correction; the newest counts.

        Raises
        ------
        StoreError
            The run is not there, or goes on and no wetting test was asked for in it, or the store
            cannot be written.
        """
        self._add(OUTCOMES, run, outcome)

    def _add(self, table: Table[T], run: int, value: T, asks: str = "") -> None:
        with adding(self._path) as connection:
            goes_on = not has_ended(connection, self._path, run)
            if asks and goes_on:
                now_ns = self._clock.utc_ns()
                insert_request(connection, run, now_ns, RequestKind.JOB_CARD, asks, by="")
            if table is OUTCOMES and goes_on and not _was_rinsed(connection, run):
                raise StoreError(
                    f"run {run} is still running: end it, or switch off for the water-break test, "
                    "then enter the result; nothing was stored"
                )
            connection.execute(
                table.insert("run, utc_ns"), (run, self._clock.utc_ns(), *table.cells(value))
            )


def _was_rinsed(connection: sqlite3.Connection, run: int) -> bool:
    """Whether a strip of the run was switched off, so that there is a film of water to look at."""
    prompts = connection.execute(
        "SELECT count(*) FROM prompts WHERE run = ? AND prompt = ?",
        (run, str(PromptName.CHECK_WETTING)),
    ).fetchone()
    return bool(prompts[0])


def steps_of(connection: sqlite3.Connection, run: int) -> list[tuple[int, str]]:
    """The steps of the job by the run's cards, each with the UTC (ns) from which it counted.

    In order; before the first none was. A card of a later moment changes nothing before it.
    """
    steps: list[tuple[int, str]] = []
    for utc_ns, step in connection.execute(
        "SELECT utc_ns, step FROM job_cards WHERE run = ? ORDER BY card", (run,)
    ):
        # A wall clock that was set back: the newer card counts from its own time on.
        while steps and steps[-1][0] >= utc_ns:
            steps.pop()
        steps.append((utc_ns, step))
    return steps


def card_before(path: Path, run: int) -> JobCard | None:
    """The answers of last time: the newest card of an earlier run, of the same supply if any.

    Raises
    ------
    StoreError
        See `open_store`.
    """
    newest = CARDS.select(
        "WHERE run < ?1 ORDER BY (SELECT supply FROM runs WHERE runs.run = job_cards.run)"
        " = (SELECT supply FROM runs WHERE run = ?1) DESC, card DESC LIMIT 1"
    )
    with reading(path) as connection:
        cells = connection.execute(newest, (run,)).fetchone()
        return None if cells is None else CARDS.value(cells)


def cards_and_outcomes(path: Path) -> tuple[dict[int, JobCard], dict[int, Outcome]]:
    """The newest card and the newest outcome of every run that has one, by number.

    Raises
    ------
    StoreError
        See `open_store`.
    """
    with reading(path) as connection:
        return _by_run(connection, CARDS, "card"), _by_run(connection, OUTCOMES, "outcome")


def _by_run(connection: sqlite3.Connection, table: Table[T], order: str) -> dict[int, T]:
    rows = connection.execute(f"SELECT run, {table.columns} FROM {table.name} ORDER BY {order}")
    return {run: table.value(tuple(cells)) for run, *cells in rows}
