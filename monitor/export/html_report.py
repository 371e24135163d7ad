"""A stored run in, one HTML page for the customer and the file out: what was done and what came."""

import math
import statistics
from dataclasses import replace

from monitor.base.moments import local_minute, minutes_text
from monitor.base.program import VERSION
from monitor.baths.bath_efficiency import bath_efficiency
from monitor.baths.by_products import (
    NOT_A_DESIGN,
    chromium_grams,
    dilution_air_m3_per_hour,
    hydrogen_litres_per_amp_hour,
)
from monitor.baths.cautions import OF_A_FINISH, OF_A_RUN
from monitor.baths.charge_need import charge_need
from monitor.baths.step_charge import charge_before_step
from monitor.export.bath_text import efficiency_text
from monitor.export.html_chart import Foreseen, Sign, run_chart
from monitor.export.html_events import events_of, events_section
from monitor.export.html_page import cautions, facts, folded, heading, page, paragraph
from monitor.model.alarm import AlarmName, Change
from monitor.model.card import JobCard
from monitor.model.offered import steps_offered
from monitor.model.step import STRIP
from monitor.store.reader import Store
from monitor.store.stored_run import StoredRun
from monitor.text.causes import rise_lines, what_to_do
from monitor.text.limits import limits_in_words

COLUMNS = 600
FLOWING = 0.2
"""Share of the highest amps above which current counts as flowing."""
MOST_PROMPTS, MOST_CHANGES, MOST_TEXT = 4, 3, 320
"""Of a longer tale the end is printed here; all of it stands among the events, or folded."""
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
            "Line: mean; band: lowest to highest. Triangles: alarms; diamonds: marks; fan: the "
            "forecast as it stood when it was first said, the bar on the limit its range; grey: "
            "nothing is known.",
            "quiet",
        ),
        paragraph("Drag to zoom, double click to see all.", "quiet screen"),
        heading("Charge and what the part takes"),
        facts(_charge(store, run, card)),
        *_trip(run),
        *_finish(run),
        *events_section(events_of(run)),
        heading("Limits in force"),
        paragraph(" ".join((*limits_in_words(row.facts), *_steps(run, card)))),
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
    if card.reference:
        rows.insert(0, ("Customer's reference", card.reference))
    rows += _was(run, card)
    rows.append(
        (
            "Readings",
            f"{summary.samples}, one every {row.facts.poll_s:g} s; {summary.missing} without an "
            f"answer in {summary.gaps} gaps; {summary.coverage:.1%} of the time is known",
        )
    )
    return rows


def _was(run: StoredRun, card: JobCard) -> list[tuple[str, str]]:
    """What volts, density, minutes and temperature were while current flowed."""
    columns = [
        c for c in run.columns(COLUMNS) if c.amps_mean is not None and c.volts_mean is not None
    ]
    most = max((c.amps_mean or 0.0 for c in columns), default=0.0)
    flowing = [c for c in columns if (c.amps_mean or 0.0) > FLOWING * most > 0.0]
    if not flowing:
        return []
    amps = statistics.median(c.amps_mean or 0.0 for c in flowing)
    minutes = math.fsum(c.to_s - c.from_s for c in flowing) / 60.0
    told = [
        f"{statistics.median(c.volts_mean or 0.0 for c in flowing):.1f} V",
        f"{amps:.1f} A",
        f"{minutes:.1f} min of current",
    ]
    if card.area_dm2:
        told.insert(2, f"{amps / card.area_dm2:.1f} A/dm2")
    warm = [c.celsius_mean for c in flowing if c.celsius_mean is not None]
    if warm:
        told.append(f"{min(warm):.0f} to {max(warm):.0f} C")
    return [("Worked at", ", ".join(told))]


def _steps(run: StoredRun, card: JobCard) -> list[str]:
    """The windows of the step that the card names; of a strip where it names none."""
    name = card.step or STRIP
    steps = steps_offered(run.row.facts.settings)
    return [f"Step {one.line}." for one in steps if one.name == name]


def _finish(run: StoredRun) -> list[str]:
    """What was told and confirmed at the end of the strip, and how it turned out."""
    prompts, outcome = run.prompts(), run.outcome()
    if not prompts and outcome is None:
        return []
    rows = [
        (f"{minutes_text(one.t_s)} {prompt_title(one.prompt)}", _cut(one.message))
        for one in prompts[-MOST_PROMPTS:]
    ]
    if not prompts:
        rows.append(("End of the strip", "not told; by the operator's own eye"))
    if outcome is not None and outcome.line:
        by = f", seen by {outcome.by}" if outcome.by else ""
        rows.append(("Turned out", f"{outcome.line}{by}"))
    return [heading("The end of the strip"), facts(rows), paragraph(" ".join(OF_A_FINISH), "quiet")]


def prompt_title(prompt: str) -> str:
    """A prompt's name as words.

    >>> prompt_title("strip-looks-finished")
    'strip looks finished'
    """
    return prompt.replace("-", " ")


def _charge(store: Store, run: StoredRun, card: JobCard) -> list[tuple[str, str]]:
    estimate = run.latest_estimate()
    if estimate is None:
        return [("Charge", "nothing has passed yet")]
    charge = estimate.charge
    rows = [
        (
            "Passed",
            f"{charge.amp_hours:.3f} Ah"
            + (
                f"; with the gaps between {charge.amp_hours_low:.3f} and "
                f"{charge.amp_hours_high:.3f} Ah"
                if charge.amp_hours_high - charge.amp_hours_low >= 0.0005
                else f", with {charge.coverage:.1%} of the time known"
            ),
        )
    ]
    if card.area_dm2 is not None and card.micrometres is not None:
        bath = card.bath or run.row.facts.bath
        learned = bath_efficiency(store, bath, run.run) if bath else None
        need = replace(
            charge_need(card.area_dm2, card.micrometres, learned), before=charge_before_step(run)
        )
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
            passed = need.passed(charge.amp_hours)
            rows.append(("Of that passed here", f"{passed / need.likely:.0%}, in this step"))
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
    trips = [e for e in run.alarms() if e.alarm == AlarmName.TRIPPED and e.change is Change.RAISED]
    if not trips:
        return []
    at = trips[0].t_s
    known = [one for one in run.estimates(max(at - 30.0, 0.0), at) if one.siemens is not None]
    before = known[-1] if known else None
    warned = [
        e
        for e in run.alarms()
        if e.alarm == AlarmName.TRIP_EXPECTED and e.change is Change.RAISED and e.t_s < at
    ]
    lead = "no warning stood before it"
    if warned:
        lead = f"it was warned of {minutes_text(at - warned[-1].t_s)} (min:s) before"
    lines = [f"The supply cut out at {minutes_text(at)}; {lead}."]
    for told in run.explanations()[:MOST_TOLD]:
        lines += [f"{told.why}.", f"In order: {told.order_text}." if told.order else ""]
    lines += [f"{_sentence(one)}." for one in rise_lines(before)]
    lines.append(what_to_do(AlarmName.TRIPPED))
    return [heading("Why it cut out"), *(paragraph(_sentence(one)) for one in lines if one)]


def _changes(run: StoredRun) -> list[str]:
    """Limits that became other ones: by a job card, or while the run was interrupted."""
    at_once: dict[int, list[str]] = {}
    for one in run.setting_changes():
        name = one.name.removeprefix("fittings.").replace(".", " ").replace("_", " ")
        at_once.setdefault(one.t_ns, []).append(f"{name} from {one.before} to {one.after}")
    told = [f"{minutes_text(t_ns / 1e9)}: {'; '.join(names)}" for t_ns, names in at_once.items()]
    parts = [paragraph(_cut(one)) for one in told[-MOST_CHANGES:]]
    if len(told) > MOST_CHANGES or any(_cut(one) != one for one in told):
        parts.append(folded(f"All changes ({len(told)})", "".join(map(paragraph, told))))
    return parts


def _cut(text: str) -> str:
    """As much of it as has its place on paper."""
    return text if len(text) <= MOST_TEXT else f"{text[: MOST_TEXT - 3].rstrip()}..."


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
            _amps_at(run, e.t_s),
            e.t_s + (e.trip_in_s if e.trip_in_low_s is None else e.trip_in_low_s),
            e.t_s + e.trip_in_s,
            None if e.trip_in_high_s is None else e.t_s + e.trip_in_high_s,
        )
        for e in run.alarms()
        if e.alarm == AlarmName.TRIP_EXPECTED
        and e.change is Change.RAISED
        and e.trip_in_s is not None
    ]


def _amps_at(run: StoredRun, t_s: float) -> float:
    """What was expected to flow then; where nothing was, the limit."""
    known = [one for one in run.estimates(max(t_s - 10.0, 0.0), t_s) if one.amps_expected]
    return known[-1].amps_expected or 0.0 if known else run.row.facts.limit_amps
