"""The picture of a run at one moment: what a look at the store gives, and panels are drawn from."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.model.alarm import AlarmEvent
from monitor.model.card import JobCard
from monitor.model.charge_need import ChargeNeed
from monitor.model.estimate import Estimate
from monitor.model.event import Mark, Prompt, Status
from monitor.model.explanation import Explanation
from monitor.model.outcome import Outcome
from monitor.model.request import Request
from monitor.model.run import GapRow, RunRow, Segment
from monitor.model.sample import Gap, Sample
from monitor.model.strip_plan import StripPlan
from monitor.store.columns import Column
from monitor.store.forward_rows import ForwardState


@dataclass(frozen=True, slots=True)
class Window:
    """The stretch of a run that a chart shows, in `count` columns; run seconds."""

    from_s: float
    to_s: float
    count: int

    @property
    def column_s(self) -> float:
        """Seconds that one column stands for."""
        return (self.to_s - self.from_s) / self.count


def is_hole(column: Column) -> bool:
    """True where answers were missed and none gave amps: never to be drawn across."""
    return column.is_gap and column.amps_low is None


@dataclass(frozen=True, slots=True)
class Chart:
    """Columns of a window, oldest first."""

    window: Window
    columns: tuple[Column, ...] = ()

    def column_at(self, t_s: float) -> Column | None:
        """The column that holds this moment; None outside the window."""
        if not self.columns or not self.window.from_s <= t_s <= self.window.to_s:
            return None
        index = int((t_s - self.window.from_s) / self.window.column_s)
        return self.columns[min(index, len(self.columns) - 1)]


@dataclass(frozen=True, slots=True)
class View:
    """The picture of one run.

    Parameters
    ----------
    row, segment
        The run, and the recorder's latest stretch of it; None before there is one.
    last, last_sample
        The newest row, and the newest answered one that this screen has seen.
    alarms
        The latest event of every alarm that is not back to normal.
    events
        Every change of every alarm, oldest first.
    statuses
        How the recorder's own parts stand, by name.
    requests
        What was asked of the recorder and what became of it, oldest first.
    card, outcome
        The job card and how the strip turned out; None where nobody said.
    card_before
        The answers of the run before.
    explanations
        What made the strip stop, each time.
    need
        The charge that the work takes; None where area or thickness is not known.
    plan
        What to expect of the job on the card that is being filled in; None without one.
    forward
        How the copying to each server stands.
    """

    row: RunRow
    segment: Segment | None = None
    last: Sample | Gap | None = None
    last_sample: Sample | None = None
    estimate: Estimate | None = None
    alarms: tuple[AlarmEvent, ...] = ()
    events: tuple[AlarmEvent, ...] = ()
    marks: tuple[Mark, ...] = ()
    prompts: tuple[Prompt, ...] = ()
    gaps: tuple[GapRow, ...] = ()
    statuses: Mapping[str, Status] = field(default_factory=dict)
    requests: tuple[Request, ...] = ()
    card: JobCard | None = None
    card_before: JobCard | None = None
    outcome: Outcome | None = None
    forward: tuple[ForwardState, ...] = ()
    explanations: tuple[Explanation, ...] = ()
    need: ChargeNeed | None = None
    plan: StripPlan | None = None
    chart: Chart = field(default_factory=lambda: Chart(Window(0.0, 1.0, 1)))

    @property
    def news(self) -> tuple[object, ...]:
        """What is drawn as soon as it changes: all but the values and the chart's moving on."""
        return (
            self.row,
            self.segment,
            type(self.last),
            self.alarms,
            self.events,
            self.marks,
            self.prompts,
            self.statuses,
            self.requests,
            self.card,
            self.outcome,
            self.explanations,
        )

    @property
    def ended(self) -> bool:
        """True once the run is over."""
        return self.row.ended_utc_ns is not None

    @property
    def end_s(self) -> float | None:
        """Length of a run that is over, seconds; None while it goes on or is not known."""
        if self.row.ended_t_ns is not None:
            return self.row.ended_t_ns / 1e9
        return self.last.t_s if self.ended and self.last is not None else None
