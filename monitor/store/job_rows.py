"""Job cards and outcomes of runs: read with the store, added by a screen in a short transaction."""

import sqlite3
from pathlib import Path

from drivers.base.clock import Clock, SystemClock
from monitor.base.errors import NoSuchRun, StoreError
from monitor.model.card import JobCard, Way
from monitor.model.card_text import card_as_text
from monitor.model.event import PromptName
from monitor.model.outcome import Outcome
from monitor.model.request import RequestKind
from monitor.store.decoding import Row
from monitor.store.failures import told_clearly
from monitor.store.opening import READER_TIMEOUT_S, open_existing
from monitor.store.requests import adding

CARD_COLUMNS = "bath, step, way, part, area_dm2, micrometres, operator, reference"
OUTCOME_COLUMNS = "wetted, hazy, by"


class JobBox:
    """Where what belongs to the job is added, at any time, also after the run.

    Parameters
    ----------
    path
        The store.
    clock
        Stamps what is added; the machine's where None.
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
        way = "" if card.way is None else card.way.value
        cells = (card.bath, card.step, way, card.part)
        self._add(
            "job_cards",
            CARD_COLUMNS,
            run,
            (*cells, card.area_dm2, card.micrometres, card.operator, card.reference),
            card_as_text(card),
        )

    def put_outcome(self, run: int, outcome: Outcome) -> None:
        """Add how a strip turned out, or the correction; the newest counts.

        Raises
        ------
        StoreError
            The run is not there, or goes on and no wetting test was asked for in it, or the store
            cannot be written.
        """
        seen = [None if one is None else int(one) for one in (outcome.wetted, outcome.hazy)]
        self._add("outcomes", OUTCOME_COLUMNS, run, (*seen, outcome.by))

    def _add(
        self,
        table: str,
        columns: str,
        run: int,
        cells: tuple[str | float | None, ...],
        asks: str = "",
    ) -> None:
        with adding(self._path) as connection:
            found = connection.execute(
                "SELECT ended_utc_ns FROM runs WHERE run = ?", (run,)
            ).fetchone()
            if found is None:
                raise NoSuchRun(f"{self._path}: holds no run {run}; see `bathvigil runs`")
            if asks and found[0] is None:
                connection.execute(
                    "INSERT INTO requests (run, utc_ns, kind, detail, by) VALUES (?, ?, ?, ?, '')",
                    (run, self._clock.utc_ns(), RequestKind.JOB_CARD.value, asks),
                )
            if table == "outcomes" and found[0] is None and not _was_rinsed(connection, run):
                raise StoreError(
                    f"run {run} still goes on: end it, or switch off for the wetting test, then "
                    "tell how it turned out; nothing is kept"
                )
            connection.execute(
                f"INSERT INTO {table} (run, utc_ns, {columns}) "
                f"VALUES (?, ?, {', '.join('?' * len(cells))})",
                (run, self._clock.utc_ns(), *cells),
            )


def _was_rinsed(connection: sqlite3.Connection, run: int) -> bool:
    """Whether a strip of the run was switched off, so that there is a film of water to look at."""
    found = connection.execute(
        "SELECT count(*) FROM prompts WHERE run = ? AND prompt = ?",
        (run, str(PromptName.CHECK_WETTING)),
    ).fetchone()
    return bool(found[0])


def card_of(cells: Row) -> JobCard:
    """A row of CARD_COLUMNS."""
    bath, step, way, *rest = cells
    return JobCard(bath, step, Way(way) if way else None, *rest)


def outcome_of(cells: Row) -> Outcome:
    """A row of OUTCOME_COLUMNS."""
    wetted, hazy, by = cells
    return Outcome(
        None if wetted is None else bool(wetted), None if hazy is None else bool(hazy), by
    )


def steps_of(connection: sqlite3.Connection, run: int) -> list[tuple[int, str]]:
    """From when which step of the job was in force, by the run's cards: UTC in ns, and the step.

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
    connection = open_existing(path, "ro", READER_TIMEOUT_S)
    try:
        with told_clearly(path):
            row = connection.execute(
                f"SELECT {CARD_COLUMNS} FROM job_cards WHERE run < ?1 ORDER BY"
                " (SELECT supply FROM runs WHERE runs.run = job_cards.run)"
                " = (SELECT supply FROM runs WHERE run = ?1) DESC, card DESC LIMIT 1",
                (run,),
            ).fetchone()
    finally:
        connection.close()
    return None if row is None else card_of(row)


def cards_and_outcomes(path: Path) -> tuple[dict[int, JobCard], dict[int, Outcome]]:
    """The newest card and the newest outcome of every run that has one, by number.

    Raises
    ------
    StoreError
        See `open_store`.
    """
    connection = open_existing(path, "ro", READER_TIMEOUT_S)
    try:
        with told_clearly(path):
            cards = connection.execute(f"SELECT run, {CARD_COLUMNS} FROM job_cards ORDER BY card")
            by_run = {run: card_of(tuple(cells)) for run, *cells in cards}
            seen = connection.execute(
                f"SELECT run, {OUTCOME_COLUMNS} FROM outcomes ORDER BY outcome"
            )
            return by_run, {run: outcome_of(tuple(cells)) for run, *cells in seen}
    finally:
        connection.close()
