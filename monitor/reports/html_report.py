"""A stored run in, one HTML page for the customer and the file out: what was done and what came."""

from monitor.alarms.alarm import Change
from monitor.alarms.catalogue import TRIP_EXPECTED
from monitor.bench.bath_view import bath_runs, finished
from monitor.bench.by_products import (
    NOT_A_DESIGN,
    chromium_grams,
    dilution_air_m3_per_hour,
    hydrogen_litres_per_amp_hour,
)
from monitor.bench.cautions import OF_A_RUN
from monitor.bench.charge_need import charge_need, learned_efficiency
from monitor.job.card import JobCard
from monitor.reports.bath_text import efficiency_text
from monitor.reports.html_chart import Foreseen, Sign, run_chart
from monitor.reports.html_page import cautions, facts, heading, page, paragraph, table
from monitor.reports.moments import local_minute, minutes_text
from monitor.store.reader import Store
from monitor.store.stored_run import StoredRun
from monitor.version import VERSION
from monitor.words.causes import rise_lines, what_to_do
from monitor.words.limits import limits_in_words

COLUMNS = 600
MOST_ROWS = 14
"""Rows of a table that fit two printed pages; what is left out is counted."""
TRIPPED = "tripped"
MOST_TOLD = 3
"""Explanations of cut-outs that are told in full; a series of them tells of itself."""


def run_report(store: Store, run: StoredRun) -> str:
    """The report of one run, over or still going.

    Raises
    ------
    ChartsNotThere
        plotly is not installed.
    StoreError
        The store cannot be read.
    """
    row, card = run.row, run.card() or JobCard()
    what = card.line or f"strip on {row.facts.supply}"
    title = f"Run {row.run}: {what}"
    parts = [
        heading(title, 1),
        paragraph(_lead(run), "lead"),
        facts(_done(run, card)),
        run_chart(
            run.columns(COLUMNS), row.facts.limit_amps, _marks(run), _alarms(run), _said(run)
        ),
        paragraph(
            "Line: mean; band: lowest to highest. Drag to zoom, double click to see all. "
            "Triangles: alarms; diamonds: marks; thick bar on the limit: where the cut-out was "
            "expected when it was first said; grey: nothing is known.",
            "quiet",
        ),
        heading("Charge and what the part takes"),
        facts(_charge(store, run, card)),
        *_trip(run),
        *_events(run),
        heading("Limits in force"),
        paragraph(" ".join(limits_in_words(row.facts))),
        *_changes(run),
        heading("Cautions"),
        cautions(OF_A_RUN),
        paragraph(
            f"Recorded by {row.program}, reported by bathvigil {VERSION}, from {store.path.name}; "
            f"supply {row.facts.identity or 'without a name of its own'}.",
            "quiet",
        ),
    ]
    return page(title, parts)


def _lead(run: StoredRun) -> str:
    outcome = run.outcome()
    result = outcome.line if outcome is not None and outcome.line else "outcome not written down"
    row = run.row
    why = row.ended_why or "not ended yet"
    return f"{_sentence(result)}. {_sentence(why)}."


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _done(run: StoredRun, card: JobCard) -> list[tuple[str, str]]:
    row, summary = run.row, run.summary()
    rows = [
        ("Began", local_minute(row.began_utc_ns, row.utc_offset_s)),
        ("Lasted", f"{minutes_text(summary.seconds)} (min:s)"),
        (
            "Supply",
            f"{row.facts.supply}, {row.facts.limit_amps:g} A ({row.facts.limit_kind.value})",
        ),
    ]
    bath = card.bath or row.facts.bath
    if bath:
        litres = "" if row.facts.bath_litres is None else f", {row.facts.bath_litres:g} L"
        rows.append(("Bath", f"{bath}{litres}"))
    rows.append(
        (
            "Readings",
            f"{summary.samples}, one every {row.facts.poll_s:g} s; {summary.missing} without an "
            f"answer in {summary.gaps} gaps; {summary.coverage:.1%} of the time is known",
        )
    )
    return rows


def _charge(store: Store, run: StoredRun, card: JobCard) -> list[tuple[str, str]]:
    estimate = run.latest_estimate()
    if estimate is None:
        return [("Charge", "nothing has passed yet")]
    charge = estimate.charge
    rows = [
        (
            "Passed",
            f"{charge.amp_hours:.3f} Ah; with the gaps between {charge.amp_hours_low:.3f} and "
            f"{charge.amp_hours_high:.3f} Ah",
        )
    ]
    if card.area_dm2 is not None and card.micrometres is not None:
        bath = card.bath or run.row.facts.bath
        earlier = [one for one in bath_runs(store.path, bath) if one.run < run.run] if bath else []
        learned = learned_efficiency(finished(earlier))
        need = charge_need(card.area_dm2, card.micrometres, learned)
        rows.append(
            (
                "The chromium takes",
                f"{need.least:.3f} Ah at the very least: a lower bound by Faraday's law, six "
                f"electrons, {card.area_dm2:.3g} dm2 of {card.micrometres:g} um",
            )
        )
        if need.likely is not None and need.low is not None and need.high is not None:
            rows.append(
                (
                    "This bath's runs took",
                    f"{need.likely:.3f} Ah ({need.low:.3f} to {need.high:.3f}) for such a part; "
                    f"efficiency {efficiency_text(learned)}",
                )
            )
        grams = chromium_grams(card.area_dm2, card.micrometres)
        rows.append(("Chromium into the bath", f"{grams * 1000.0:.0f} mg if all of it came off"))
    peak = max((c.amps_high for c in run.columns(100) if c.amps_high is not None), default=0.0)
    rows.append(
        (
            "Hydrogen",
            f"up to {charge.amp_hours * hydrogen_litres_per_amp_hour():.2f} L in all; "
            f"{dilution_air_m3_per_hour(peak):.2f} m3/h of air would hold it at 1 % at the peak of "
            f"{peak:.1f} A ({NOT_A_DESIGN})",
        )
    )
    return rows


def _trip(run: StoredRun) -> list[str]:
    """What led to the first cut-out, as the estimates stood then."""
    trips = [e for e in run.alarms() if e.alarm == TRIPPED and e.change is Change.RAISED]
    if not trips:
        return []
    at = trips[0].t_s
    known = [one for one in run.estimates(max(at - 30.0, 0.0), at) if one.siemens is not None]
    before = known[-1] if known else None
    warned = [
        e
        for e in run.alarms()
        if e.alarm == TRIP_EXPECTED and e.change is Change.RAISED and e.t_s < at
    ]
    lead = "no warning stood before it"
    if warned:
        lead = f"it was warned of {minutes_text(at - warned[-1].t_s)} (min:s) before"
    lines = [f"The supply cut out at {minutes_text(at)}; {lead}."]
    for told in run.explanations()[:MOST_TOLD]:
        lines += [f"{told.why}.", f"In order: {told.order_text}." if told.order else ""]
    lines += rise_lines(before)
    lines.append(what_to_do(TRIPPED))
    return [heading("Why it cut out"), *(paragraph(_sentence(one)) for one in lines if one)]


def _events(run: StoredRun) -> list[str]:
    told = [
        (e.t_s, "alarm", f"{e.alarm} {e.change.value}: {e.message}")
        for e in run.alarms()
        if e.change in (Change.RAISED, Change.RETURNED)
    ]
    told += [(p.t_s, "prompt", p.message) for p in run.prompts()]
    told += [(m.t_ns / 1e9, "mark", f"{m.number} {m.text}".strip()) for m in run.marks()]
    for gap in run.gaps():
        until = "still open"
        if gap.ended_t_ns is not None:
            until = f"{(gap.ended_t_ns - gap.began_t_ns) / 1e9:.1f} s"
        told.append((gap.began_t_ns / 1e9, "gap", f"{gap.reason}, {until}"))
    told.sort(key=lambda one: one[0])
    rows = [(minutes_text(t_s), kind, text) for t_s, kind, text in told[:MOST_ROWS]]
    parts = [heading("Alarms, prompts, marks and gaps")]
    if not rows:
        return [*parts, paragraph("None.")]
    parts.append(table(("min:s", "", "what"), rows))
    if len(told) > MOST_ROWS:
        parts.append(
            paragraph(f"{len(told) - MOST_ROWS} more: bathvigil review {run.run}", "quiet")
        )
    return parts


def _changes(run: StoredRun) -> list[str]:
    return [
        paragraph(
            f"{minutes_text(one.t_ns / 1e9)}: {one.name} changed from {one.before} to {one.after}"
        )
        for one in run.setting_changes()
    ]


def _marks(run: StoredRun) -> list[Sign]:
    return [Sign(m.t_ns / 1e9, str(m.number), f"{m.number} {m.text}") for m in run.marks()]


def _alarms(run: StoredRun) -> list[Sign]:
    return [
        Sign(e.t_s, e.alarm, f"{e.alarm}: {e.message}")
        for e in run.alarms()
        if e.change is Change.RAISED
    ]


def _said(run: StoredRun) -> list[Foreseen]:
    """The forecast of every warning as it stood when it was raised."""
    return [
        Foreseen(
            e.t_s,
            e.t_s + (e.trip_in_s if e.trip_in_low_s is None else e.trip_in_low_s),
            e.t_s + e.trip_in_s,
            None if e.trip_in_high_s is None else e.t_s + e.trip_in_high_s,
        )
        for e in run.alarms()
        if e.alarm == TRIP_EXPECTED and e.change is Change.RAISED and e.trip_in_s is not None
    ]
