"""What the list of runs shows: one entry for every run of a store."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from monitor.base.errors import StoreDamaged
from monitor.base.moments import local_minute
from monitor.model.card import JobCard
from monitor.model.outcome import Outcome
from monitor.model.run import RunRow, RunSummary
from monitor.store.job_rows import cards_and_outcomes
from monitor.store.reader import Store, open_store
from tui.baths import BathsSource, StoredBaths
from tui.look import RunSource, Source, StoreSource
from tui.side_by_side import Side, side_of
from tui.view import Window


@dataclass(frozen=True, slots=True)
class Entry:
    """One run of the list."""

    row: RunRow
    summary: RunSummary
    card: JobCard = field(default_factory=JobCard)
    outcome: Outcome = field(default_factory=Outcome)

    @property
    def bath(self) -> str:
        """The card's bath, else the settings'."""
        return self.card.bath or self.row.facts.bath

    @property
    def began(self) -> str:
        """Local date and minute at which it began."""
        return local_minute(self.row.began_utc_ns, self.row.utc_offset_s)

    @property
    def result(self) -> str:
        """How it turned out, or why it ended."""
        ended = self.row.ended_why or "going on, or interrupted"
        return self.outcome.line or ended


def chosen(entries: tuple[Entry, ...], words: str) -> tuple[Entry, ...]:
    """The entries in which every word is found.

    A word stands for itself, or after one of "supply:", "bath:", "part:", "outcome:" for that
    alone; "from:" and "until:" take a date such as 2026-01-31.
    """
    return tuple(entry for entry in entries if all(_has(entry, w) for w in words.lower().split()))


def _has(entry: Entry, word: str) -> bool:
    places = {
        "supply": entry.row.facts.supply,
        "bath": entry.bath,
        "part": entry.card.part,
        "outcome": f"{entry.outcome.line} {entry.row.ended_why or ''}",
    }
    name, colon, rest = word.partition(":")
    if colon and name == "from":
        return entry.began >= rest
    if colon and name == "until":
        return entry.began[: len(rest)] <= rest
    if colon and name in places:
        return rest in places[name].lower()
    everything = " ".join((*places.values(), entry.began, entry.card.line, str(entry.row.run)))
    return word in everything.lower()


class RunsSource(Source, Protocol):
    """Where the list of runs looks, and what it opens."""

    def look(self, window: Window | None) -> tuple[Entry, ...]:
        """All runs, the newest first; see `Source.look`."""
        ...

    def source(self, run: int) -> RunSource:
        """Where a screen about one of them looks."""
        ...

    def ledger(self, bath: str) -> BathsSource:
        """Where the ledger looks, from this bath on."""
        ...

    def beside(self, runs: tuple[int, ...]) -> "SidesSource":
        """Where a comparison of several looks."""
        ...


class SidesSource(Source, Protocol):
    """Where a comparison looks."""

    def look(self, window: Window | None) -> tuple[Side, ...]:
        """Each run as one side; see `Source.look`."""
        ...


@dataclass(slots=True)
class ArchiveSource:
    """Looks at all runs of a store; a run that has ended is read once.

    Parameters
    ----------
    path
        The store.
    """

    path: Path
    _store: Store | None = None
    _ended: dict[int, RunSummary] = field(default_factory=dict)

    def look(self, window: Window | None) -> tuple[Entry, ...]:
        """See `RunsSource.look`."""
        del window
        try:
            if self._store is None:
                self._store = open_store(self.path)
            store = self._store
            cards, outcomes = cards_and_outcomes(self.path)
            return tuple(
                Entry(
                    row,
                    self._summary(store, row),
                    cards.get(row.run, JobCard()),
                    outcomes.get(row.run, Outcome()),
                )
                for row in reversed(store.runs())
            )
        except Exception:
            self.close()
            raise

    def ledger(self, bath: str) -> BathsSource:
        """See `RunsSource.ledger`."""
        return StoredBaths(self.path, bath)

    def source(self, run: int) -> RunSource:
        """See `RunsSource.source`."""
        return StoreSource(self.path, run)

    def beside(self, runs: tuple[int, ...]) -> SidesSource:
        """See `RunsSource.beside`."""
        return StoredSides(self.path, runs)

    def close(self) -> None:
        """Give back what was opened."""
        if self._store is not None:
            self._store.close()
        self._store = None

    def _summary(self, store: Store, row: RunRow) -> RunSummary:
        known = self._ended.get(row.run)
        if known is None:
            try:
                known = store.run(row.run).summary()
            except StoreDamaged:
                # One damaged run hides no other.
                known = RunSummary(row.run, 0.0, 0, 0, 0, 0.0, 0.0, 0)
            if row.ended_utc_ns is not None:
                self._ended[row.run] = known
        return known


@dataclass(slots=True)
class StoredSides:
    """Looks at several runs of a store on columns of one width."""

    path: Path
    runs: tuple[int, ...]
    _seen: tuple[Side, ...] = ()
    _window: Window | None = None

    def look(self, window: Window | None) -> tuple[Side, ...]:
        """See `SidesSource.look`."""
        if window is not None and window != self._window:
            with open_store(self.path) as store:
                runs = [store.run(run) for run in self.runs]
                longest_s = max(run.summary().seconds for run in runs)
                self._seen = tuple(side_of(run, longest_s) for run in runs)
            self._window = window
        return self._seen

    def close(self) -> None:
        """Nothing stays open."""
