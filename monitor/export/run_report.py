"""The report of one run: what was done, its chart, the charge, the cut-out and all that happened.

The words stand in `templates/run.html`; this finds the values for them.
"""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace

from monitor.base.moments import clock
from monitor.baths.by_products import chromium_grams, hydrogen_litres_per_amp_hour
from monitor.baths.cautions import OF_A_FINISH, OF_A_RUN
from monitor.baths.charge_need import charge_need
from monitor.baths.run_charge import bath_efficiency, charge_before_step
from monitor.export.bath_text import efficiency_text
from monitor.export.report_chart import Foreseen, Sign, run_chart
from monitor.export.report_page import page
from monitor.model.alarm import RANK, AlarmEvent, AlarmName, Change
from monitor.model.card import JobCard
from monitor.model.kept_settings import kept_fittings
from monitor.model.outcome import Outcome
from monitor.model.start_check import checks_of
from monitor.store.columns import Column
from monitor.store.reader import Store
from monitor.store.stored_run import StoredRun
from monitor.text.alarm_messages import SINCE
from monitor.text.alarms import action_of
from monitor.text.limits import limits_in_words
from monitor.text.rise import rise_lines
from monitor.text.start_checks import confirmed
from monitor.text.stops import order_line

COLUMNS = 1200
"""Of the chart: a zoom to half of it is still as fine as the page."""
FLOWING = 0.2
"""Share of the highest amps above which current counts as flowing."""
MOST_EVENTS, MOST_EVENT_TEXT = 14, 240
"""Rows of the table of events, and characters of a row, that fit two printed pages."""
MOST_PROMPTS, MOST_CHANGES, MOST_TEXT = 4, 3, 320
"""Of more only the last are printed, and of a longer text its beginning."""
MOST_EXPLAINED = 3
"""Cut-outs that are explained in full; later ones of a series say the same."""
BEFORE_TRIP_S, BEFORE_WARNING_S = 30.0, 10.0
"""The oldest estimate that is used for the moment of a cut-out, of a warning; seconds."""
PROMPT_RANK, MARK_RANK, GAP_RANK, RETURN_RANK = 1, 2, 3, 5


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened; the lowest rank is the most important."""

    t_s: float
    rank: int
    kind: str
    text: str


def run_report(store: Store, run: StoredRun) -> str:
    """The report of a run, ended or not, as an HTML page.

    Raises
    ------
    StoreError
        The store cannot be read.
    """
    row, card = run.row, run.card() or JobCard()
    columns, events, changes = run.columns(COLUMNS), events_of(run), _changes(run)
    raised = [event for event in run.alarms() if event.change is Change.RAISED]
    most_important = sorted(events, key=lambda event: event.rank)[:MOST_EVENTS]
    shown = sorted(most_important, key=lambda event: event.t_s)
    chart = run_chart(
        columns,
        row.facts.limit_amps,
        row.began_utc_ns / 1e9 + row.utc_offset_s,
        [
            Sign(mark.t_ns / 1e9, str(mark.number), f"mark {mark.number} {mark.text}".rstrip())
            for mark in run.marks()
        ],
        [Sign(event.t_s, event.alarm, f"{event.alarm}: {event.message}") for event in raised],
        [
            _foreseen(run, event, event.trip_in_s)
            for event in raised
            if event.alarm == AlarmName.TRIP_EXPECTED and event.trip_in_s is not None
        ],
    )
    return page(
        "run.html",
        title=f"Run {row.run}: {card.line or f'strip on {row.facts.supply}'}",
        cautions=OF_A_RUN,
        finish_cautions=OF_A_FINISH,
        store_name=store.path.name,
        row=row,
        card=card,
        summary=run.summary(),
        outcome=run.outcome() or Outcome(),
        confirmed=confirmed(checks_of(card.checked)),
        worked=_worked(columns, card),
        chart=chart,
        **_charge(store, run, card),
        trip=_trip(run, raised),
        prompts=run.prompts(),
        most_prompts=MOST_PROMPTS,
        events=events,
        shown=shown,
        is_cut=len(shown) < len(events) or any(len(e.text) > MOST_EVENT_TEXT for e in shown),
        most_event_text=MOST_EVENT_TEXT,
        limits=[*limits_in_words(row.facts), *_steps(run, card)],
        changes=changes,
        most_changes=MOST_CHANGES,
        most_text=MOST_TEXT,
    )


def events_of(run: StoredRun) -> list[Event]:
    """Alarms, prompts, marks and gaps, in order of time."""
    events = [
        Event(
            alarm.t_s,
            RANK[alarm.priority] if alarm.change is Change.RAISED else RETURN_RANK,
            "alarm",
            f"{alarm.alarm} {alarm.change.value}{f' by {alarm.by}' if alarm.by else ''}: "
            f"{alarm.message}",
        )
        for alarm in run.alarms()
    ]
    events += [Event(p.t_s, PROMPT_RANK, "prompt", p.message) for p in run.prompts()]
    events += [
        Event(mark.t_ns / 1e9, MARK_RANK, "mark", f"{mark.number} {mark.text}".strip())
        for mark in run.marks()
    ]
    for gap in run.gaps():
        lasted = "not over yet"
        if gap.ended_t_ns is not None:
            lasted = f"{(gap.ended_t_ns - gap.began_t_ns) / 1e9:.1f} s"
        events.append(Event(gap.began_t_ns / 1e9, GAP_RANK, "gap", f"{gap.reason}, {lasted}"))
    return sorted(events, key=lambda event: event.t_s)


def _worked(columns: Sequence[Column], card: JobCard) -> str:
    """Median volts and amps, density, minutes and temperature while current flowed; "" for none."""
    both = [
        (column, column.volts_mean, column.amps_mean)
        for column in columns
        if column.volts_mean is not None and column.amps_mean is not None
    ]
    most = max((amps for _, _, amps in both), default=0.0)
    flowing = [values for values in both if values[2] > FLOWING * most > 0.0]
    if not flowing:
        return ""
    amps = statistics.median(amps for _, _, amps in flowing)
    volts = statistics.median(volts for _, volts, _ in flowing)
    minutes = math.fsum(column.to_s - column.from_s for column, _, _ in flowing) / 60.0
    texts = [f"{volts:.1f} V", f"{amps:.1f} A"]
    if card.area_dm2:
        texts.append(f"{amps / card.area_dm2:.1f} A/dm2")
    texts.append(f"{minutes:.1f} min with current")
    warm = [c.celsius_mean for c, _, _ in flowing if c.celsius_mean is not None]
    if warm:
        texts.append(f"{min(warm):.0f} to {max(warm):.0f} C")
    return ", ".join(texts)


def _charge(store: Store, run: StoredRun, card: JobCard) -> dict[str, object]:
    """The charge that passed, and what the part needs where its area and thickness are known."""
    estimate, bath = run.latest_estimate(), card.bath or run.row.facts.bath
    values: dict[str, object] = {"charge": None, "need": None, "bath": bath}
    if estimate is None:
        return values
    values |= {
        "charge": estimate.charge,
        "hydrogen_litres": estimate.charge.amp_hours * hydrogen_litres_per_amp_hour(),
    }
    if card.area_dm2 is not None and card.micrometres is not None:
        learned = bath_efficiency(store, bath, run.run) if bath else None
        need = charge_need(card.area_dm2, card.micrometres, learned)
        values |= {
            "need": replace(need, before=charge_before_step(run)),
            "efficiency": efficiency_text(learned),
            "chromium_mg": chromium_grams(card.area_dm2, card.micrometres) * 1000.0,
        }
    return values


def _trip(run: StoredRun, raised: Sequence[AlarmEvent]) -> list[str]:
    """What led to the first cut-out, by the estimates of that time; nothing without one."""
    trips = (event for event in raised if event.alarm == AlarmName.TRIPPED)
    # One that an earlier run has left is told among its alarms.
    trip = next((event for event in trips if not event.message.startswith(SINCE)), None)
    if trip is None:
        return []
    at_s = trip.t_s
    known = [
        estimate
        for estimate in run.estimates(max(at_s - BEFORE_TRIP_S, 0.0), at_s)
        if estimate.siemens
    ]
    warned = [
        event.t_s for event in raised if event.alarm == AlarmName.TRIP_EXPECTED and event.t_s < at_s
    ]
    lead = "there was no warning"
    if warned:
        lead = f"the warning came {clock(at_s - warned[-1])} earlier"
    lines = [f"The supply cut out at {clock(at_s)}; {lead}."]
    for explanation in run.explanations()[:MOST_EXPLAINED]:
        lines.append(f"{explanation.why}.")
        if explanation.order:
            lines.append(f"In order: {order_line(explanation.order)}.")
    lines += [f"{line}." for line in rise_lines(known[-1] if known else None)]
    return [*lines, action_of(trip)]


def _steps(run: StoredRun, card: JobCard) -> list[str]:
    """The windows of the step that the card names; of a strip where it names none."""
    fittings = kept_fittings(run.row.facts.settings)
    in_force = fittings.for_card(card).step
    return [f"Step {in_force.line}." for step in fittings.steps if step.name == in_force.name]


def _changes(run: StoredRun) -> list[str]:
    """Limits that changed: by a job card, or while the run was interrupted."""
    by_time: dict[int, list[str]] = {}
    for change in run.setting_changes():
        name = change.name.removeprefix("fittings.").replace(".", " ").replace("_", " ")
        by_time.setdefault(change.t_ns, []).append(f"{name} from {change.before} to {change.after}")
    return [f"{clock(t_ns / 1e9)}: {'; '.join(texts)}" for t_ns, texts in by_time.items()]


def _foreseen(run: StoredRun, warning: AlarmEvent, median_s: float) -> Foreseen:
    """The forecast of a warning when it was raised, from the amps that were expected then."""
    t_s = warning.t_s
    expected = [
        estimate.amps_expected
        for estimate in run.estimates(max(t_s - BEFORE_WARNING_S, 0.0), t_s)
        if estimate.amps_expected
    ]
    return Foreseen(
        t_s,
        expected[-1] if expected else run.row.facts.limit_amps,
        t_s + (median_s if warning.trip_in_low_s is None else warning.trip_in_low_s),
        t_s + median_s,
        None if warning.trip_in_high_s is None else t_s + warning.trip_in_high_s,
    )
