"""Reads a run from the store for a screen; no other part of a screen opens a store."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Protocol

from drivers.base.clock import Clock
from monitor.baths.job_plan import plan_of_run
from monitor.baths.run_charge import need_of_run
from monitor.model.alarm import AlarmEvent
from monitor.model.card import JobCard
from monitor.model.charge_need import ChargeNeed
from monitor.model.event import Mark, Prompt, Status
from monitor.model.explanation import Explanation
from monitor.model.outcome import Outcome
from monitor.model.request import RequestKind
from monitor.model.run import GapRow, RunRow
from monitor.model.sample import Sample
from monitor.model.strip_plan import StripPlan
from monitor.store.forward_rows import ForwardState
from monitor.store.forward_state import forward_states
from monitor.store.job_rows import JobBox, card_before
from monitor.store.reader import Store, StoredRun, open_store
from monitor.store.requests import RequestBox
from monitor.store.run_clock import run_clock
from monitor.text.copying import BESIDE, COPY
from tui.baths import BathsSource, StoredBaths
from tui.view import Chart, View, Window

BY = "screen"
"""Who asks, in the requests of a screen."""

NEWEST_REQUESTS = 200
"""More than are made within the life of any prompt or hold; a long run has thousands."""

FORWARD_EVERY = 10
"""How the copying stands is looked up with every tenth chart: it costs more than all the rest."""


class Source(Protocol):
    """Where a screen looks; used from one thread."""

    def look(self, window: Window | None) -> object:
        """What the screen shows now; with a window, charts and history are looked up anew.

        Raises
        ------
        StoreError
            The store cannot be read at present.
        """
        ...

    def close(self) -> None:
        """Give back what was opened."""
        ...


class RunSource(Source, Protocol):
    """Where a screen about one run looks and asks."""

    def look(self, window: Window | None) -> View:
        """The picture of the run now; see `Source.look`."""
        ...

    def ask(self, kind: RequestKind, detail: str) -> None:
        """Drop a request to the recorder.

        Raises
        ------
        StoreError
            It could not be dropped.
        """
        ...

    def add_mark_text(self, number: int, text: str) -> None:
        """Add a text to a mark; raises as `ask`."""
        ...

    def put_card(self, card: JobCard) -> None:
        """Add the run's job card, or its correction; raises as `ask`."""
        ...

    def plan_for(self, card: JobCard) -> None:
        """Let the next look plan this job; may be called from any thread."""
        ...

    def put_outcome(self, outcome: Outcome) -> None:
        """Add how the strip turned out; raises as `ask`."""
        ...

    def another(self) -> "RunSource":
        """A source of the same run for a further screen, whose lookout is another thread."""
        ...

    def ledger(self, bath: str) -> BathsSource:
        """Where the ledger looks, from this bath on."""
        ...


@dataclass(frozen=True, slots=True)
class _History:
    """What a chart and its lists need; looked up less often than the rest."""

    events: tuple[AlarmEvent, ...]
    marks: tuple[Mark, ...]
    prompts: tuple[Prompt, ...]
    gaps: tuple[GapRow, ...]
    chart: Chart
    statuses: Mapping[str, Status]
    card: JobCard | None
    outcome: Outcome | None
    forward: tuple[ForwardState, ...]
    explanations: tuple[Explanation, ...]
    need: ChargeNeed | None
    changes: int


@dataclass(slots=True)
class StoreSource:
    """Looks at one run of a store, and drops requests into it.

    Parameters
    ----------
    path, run
        The store and the number of the run.
    """

    path: Path
    run: int
    _store: Store | None = None
    _last_sample: Sample | None = None
    _history: _History | None = None
    _clock: Clock | None = None
    _card_before: JobCard | None = None
    _charts: int = 0
    _to_plan: JobCard | None = None
    _planned: tuple[JobCard, StripPlan] | None = None

    def look(self, window: Window | None) -> View:
        """See `RunSource.look`. After an error the store is opened anew at the next look."""
        try:
            if self._store is None:
                self._store = open_store(self.path)
            return self._look(self._store.run(self.run), window)
        except Exception:
            self.close()
            raise

    def ask(self, kind: RequestKind, detail: str) -> None:
        """See `RunSource.ask`."""
        RequestBox(self.path, self._clock).ask(self.run, kind, detail, BY)

    def add_mark_text(self, number: int, text: str) -> None:
        """See `RunSource.add_mark_text`."""
        RequestBox(self.path).add_mark_text(self.run, number, text)

    def put_card(self, card: JobCard) -> None:
        """See `RunSource.put_card`."""
        JobBox(self.path, self._clock).put_card(self.run, card)

    def plan_for(self, card: JobCard) -> None:
        """See `RunSource.plan_for`."""
        self._to_plan = replace(card, checked="")

    def put_outcome(self, outcome: Outcome) -> None:
        """See `RunSource.put_outcome`."""
        JobBox(self.path).put_outcome(self.run, outcome)

    def another(self) -> "StoreSource":
        """See `RunSource.another`."""
        return StoreSource(self.path, self.run)

    def ledger(self, bath: str) -> BathsSource:
        """See `RunSource.ledger`."""
        return StoredBaths(self.path, bath)

    def close(self) -> None:
        """See `Source.close`."""
        if self._store is not None:
            self._store.close()
        self._store = None

    def _look(self, run: StoredRun, window: Window | None) -> View:
        last, row = run.last(), run.row
        segments = run.segments()
        if segments and self._clock is None:
            self._clock = run_clock(row, segments[-1])
            self._card_before = card_before(self.path, self.run)
        history = self._history
        if window is not None or history is None:
            history = self._look_back(run, window or Window(0.0, 1.0, 1))
        self._history = history
        if isinstance(last, Sample):
            self._last_sample = last
        elif self._last_sample is None and last is not None:
            self._last_sample = _answered_before(run, run.gaps())
        return View(
            row=row,
            segment=segments[-1] if segments else None,
            last=last,
            last_sample=self._last_sample,
            estimate=run.latest_estimate(),
            alarms=tuple(run.standing_alarms()),
            events=history.events,
            marks=history.marks,
            prompts=history.prompts,
            gaps=history.gaps,
            chart=history.chart,
            statuses=history.statuses,
            requests=tuple(run.requests(NEWEST_REQUESTS)),
            card=history.card,
            card_before=self._card_before,
            outcome=history.outcome,
            forward=history.forward,
            explanations=history.explanations,
            need=history.need,
            plan=self._plan(run.row),
        )

    def _plan(self, row: RunRow) -> StripPlan | None:
        """Once for each card: it reads the bath's earlier runs."""
        card, store = self._to_plan, self._store
        if card is None or store is None:
            return None
        if self._planned is None or self._planned[0] != card:
            celsius = None if self._last_sample is None else self._last_sample.celsius
            self._planned = card, plan_of_run(store, row, card, celsius)
        return self._planned[1]

    def _statuses(self, run: StoredRun) -> dict[str, Status]:
        """How the recorder's parts stood; and of an ended run, that the file alone is not all."""
        statuses = run.statuses()
        ended_ns = run.row.ended_utc_ns
        if self._store is not None and ended_ns is not None and not self._store.stands_alone:
            statuses[COPY] = Status(COPY, ended_ns, BESIDE)
        return statuses

    def _look_back(self, run: StoredRun, window: Window) -> _History:
        columns = run.columns(window.count, window.from_s, window.to_s)
        card, changes = run.card(), len(run.setting_changes())
        return _History(
            events=tuple(run.alarms()),
            marks=tuple(run.marks()),
            prompts=tuple(run.prompts()),
            gaps=tuple(run.gaps()),
            chart=Chart(window, tuple(columns)),
            statuses=self._statuses(run),
            card=card,
            outcome=run.outcome(),
            forward=self._forward(),
            explanations=tuple(run.explanations()),
            need=self._need(run, card, changes),
            changes=changes,
        )

    def _need(self, run: StoredRun, card: JobCard | None, changes: int) -> ChargeNeed | None:
        """Looked up anew with another card or step only: it reads the bath's finished runs."""
        known = self._history
        if known is not None and (known.card, known.changes) == (card, changes):
            return known.need
        return None if self._store is None else need_of_run(self._store, run, card or JobCard())

    def _forward(self) -> tuple[ForwardState, ...]:
        known = self._history
        self._charts += 1
        if known is not None and self._charts % FORWARD_EVERY:
            return known.forward
        return tuple(forward_states(self.path))


def _answered_before(run: StoredRun, gaps: list[GapRow]) -> Sample | None:
    """The answered row before the stretch of silence that lasts now."""
    if not gaps:
        return None
    before = next(run.rows(after_seq=gaps[-1].began_seq - 2), None)
    return before if isinstance(before, Sample) else None
