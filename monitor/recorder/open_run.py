"""The run that a supply is recorded into: an interrupted one that goes on, or a new one."""

from dataclasses import dataclass, replace
from pathlib import Path

from drivers.base.clock import Clock, SystemClock, boot_id, sped_clock_from_now
from monitor.base.program import VERSION
from monitor.model.alarm import AlarmEvent
from monitor.model.card import JobCard
from monitor.model.event import SettingChange
from monitor.model.run import EndReason, RunFacts, RunRow, Segment
from monitor.model.sample import Sample
from monitor.store.reader import open_store
from monitor.store.run_clock import run_clock
from monitor.store.writer import StoreWriter

CONTINUE_WITHIN_S = 900.0
"""A run whose last row is younger than this is taken up again; an older one is closed."""

NO_CARD = JobCard()


@dataclass(frozen=True, slots=True)
class OpenRun:
    """A run that can be recorded into.

    `events` are its alarms so far, `marks` the number of its marks, `changes` those of its settings
    and `card` its job card, for a run taken up again. `apart_ns` is UTC less the run's time by its
    last sample, where both clocks go on. `has_rows` is True for a run that has some already.
    `clock` is the run's own; `segment` says where it goes on.
    """

    row: RunRow
    segment: Segment
    clock: Clock
    events: tuple[AlarmEvent, ...] = ()
    marks: int = 0
    changes: tuple[SettingChange, ...] = ()
    card: JobCard = NO_CARD
    apart_ns: int | None = None
    has_rows: bool = False

    @property
    def began_ns(self) -> int:
        """The run clock's monotonic time at which the run's `t_ns` is 0."""
        return self.segment.began_monotonic_ns - self.segment.began_t_ns


def open_run(store: Path, writer: StoreWriter, facts: RunFacts, new_run: bool) -> OpenRun:
    """Go on with the supply's interrupted run if it is young and alike; else begin one.

    Every other unfinished run of the supply is closed at its last row: no run stays open for
    ever. A run is alike when address, limit and poll interval are the same.
    """
    goes_on: RunRow | None = None
    for row in writer.unfinished_runs(facts.supply):
        if goes_on is not None:
            writer.end_run(goes_on.run, None, EndReason.INTERRUPTED)
            goes_on = None
        if not new_run and _is_alike(row.facts, facts) and _age_s(store, row) < CONTINUE_WITHIN_S:
            goes_on = row
        else:
            writer.end_run(row.run, None, EndReason.INTERRUPTED)
    clock: Clock = SystemClock()
    if goes_on is None:
        if facts.clock_speed != 1:
            clock = sped_clock_from_now(facts.clock_speed)
        row = writer.begin_run(facts, clock=clock, program=f"bathvigil {VERSION}")
        return OpenRun(row, writer.segment(row.run), clock)
    with open_store(store) as opened:
        stored = opened.run(goes_on.run)
        events, marks = tuple(stored.alarms()), len(stored.marks())
        changed = tuple(stored.setting_changes())
        card = stored.card() or JobCard()
        before, last = stored.segments()[-1], stored.last()
        clock = run_clock(goes_on, before)
    segment = writer.resume_run(goes_on.run, clock=clock)
    apart_ns = None
    if isinstance(last, Sample) and before.boot_id == boot_id():
        apart_ns = last.utc_ns - last.t_ns
    has_rows = last is not None
    return OpenRun(goes_on, segment, clock, events, marks, changed, card, apart_ns, has_rows)


def _is_alike(stored: RunFacts, planned: RunFacts) -> bool:
    # Who answers may be unknown to either; the station checks it when the link opens.
    return replace(stored, identity="", settings="") == replace(planned, identity="", settings="")


def _age_s(store: Path, row: RunRow) -> float:
    """Seconds of the run's clock since its last row.

    Within one boot by the monotonic clock, since the wall clock may have been set meanwhile.
    """
    with open_store(store) as opened:
        stored = opened.run(row.run)
        last, segment = stored.last(), stored.segments()[-1]
        clock = run_clock(row, segment)
    if segment.boot_id == boot_id() != "unknown":
        t_ns = segment.began_t_ns if last is None else last.t_ns
        began_ns = segment.began_monotonic_ns - segment.began_t_ns
        return (clock.monotonic_ns() - began_ns - t_ns) / 1e9
    last_ns = row.began_utc_ns if last is None else last.utc_ns
    return abs(clock.utc_ns() - last_ns) / 1e9
