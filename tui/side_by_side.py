"""Several stored runs side by side, and the table of their differences."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import ceil
from statistics import median

from monitor.base.moments import clock
from monitor.model.card import JobCard
from monitor.model.event import Mark
from monitor.model.run import RunRow, RunSummary
from monitor.store.columns import Column
from monitor.store.reader import StoredRun
from monitor.text.numbers import amp_hours_text, amps_text, percent

RIPPLE_S = 10.0
"""Ripple is told within columns of this length, longer ones for very long runs."""
MOST_COLUMNS = 2_000
LEAST, MOST = 2, 6
"""Runs of one comparison."""


@dataclass(frozen=True, slots=True)
class Side:
    """One run of a comparison; all sides have columns of the same width."""

    row: RunRow
    summary: RunSummary
    columns: tuple[Column, ...]
    column_s: float
    marks: tuple[Mark, ...] = ()
    card: JobCard = field(default_factory=JobCard)

    def aligned_s(self, mark: int | None) -> float | None:
        """The run second that is laid at nothing: the start, or a mark; None without that mark."""
        if mark is None:
            return 0.0
        return next((one.t_ns / 1e9 for one in self.marks if one.number == mark), None)

    @property
    def mean_amps(self) -> float | None:
        """Mean over all answered polls."""
        told = [(c.amps_mean, c.samples) for c in self.columns if c.amps_mean is not None]
        count = sum(samples for _, samples in told)
        return sum(amps * samples for amps, samples in told) / count if count else None

    @property
    def most_amps(self) -> float | None:
        """The highest amps of all."""
        return max((c.amps_high for c in self.columns if c.amps_high is not None), default=None)

    @property
    def ripple_amps(self) -> float | None:
        """The usual width from the lowest to the highest amps within one column."""
        return (
            median(
                [
                    c.amps_high - c.amps_low
                    for c in self.columns
                    if c.amps_high is not None and c.amps_low is not None
                ]
                or [0.0]
            )
            if self.most_amps is not None
            else None
        )


def side_of(run: StoredRun, longest_s: float) -> Side:
    """One stored run as a side; `longest_s` is the length of the longest of them all."""
    summary = run.summary()
    column_s = max(RIPPLE_S, longest_s / MOST_COLUMNS)
    count = max(ceil(summary.seconds / column_s), 1)
    columns = run.columns(count, 0.0, count * column_s)
    marks = tuple(run.marks())
    return Side(run.row, summary, tuple(columns), column_s, marks, run.card() or JobCard())


def differences(sides: Sequence[Side]) -> list[tuple[str, list[str], bool]]:
    """Each figure's name, its text for every side, and whether the sides differ in it."""
    rows: list[tuple[str, Callable[[Side], str]]] = [
        ("lasted", lambda s: clock(s.summary.seconds)),
        ("charge", lambda s: amp_hours_text(s.summary.amp_hours)),
        ("mean amps", lambda s: amps_text(s.mean_amps)),
        ("most amps", lambda s: amps_text(s.most_amps)),
        ("ripple", lambda s: amps_text(s.ripple_amps)),
        ("alarms", lambda s: str(s.summary.alarms)),
        ("coverage", lambda s: percent(s.summary.coverage, 1)),
        ("limit", lambda s: f"{s.row.facts.limit_amps:g} A {s.row.facts.limit_kind.value}"),
        ("asked every", lambda s: f"{s.row.facts.poll_s:g} s"),
        ("time factor", lambda s: f"{s.row.facts.clock_speed:g}"),
    ]
    told = [(name, [text(side) for side in sides]) for name, text in rows]
    return [(name, texts, len(set(texts)) > 1) for name, texts in told]


def unlike(sides: Sequence[Side]) -> list[str]:
    """What makes the runs hard to compare, in sentences; empty where nothing does."""
    facts = [side.row.facts for side in sides]
    said = []
    if len({one.poll_s for one in facts}) > 1:
        said.append("SAMPLED DIFFERENTLY: a faster poll sees spikes that a slower one misses")
    if len({one.limit_amps for one in facts}) > 1:
        said.append("LIMITS DIFFER: all charts have the same amps scale, each its own limit")
    if len({one.clock_speed for one in facts}) > 1:
        said.append("TIME FACTORS DIFFER: one of them is a simulated run in compressed time")
    if len({side.row.facts.bath_litres for side in sides}) > 1:
        said.append("THE BATHS DIFFER IN SIZE")
    return said
