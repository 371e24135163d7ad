"""A bath's state, its ledger and the advice on it as text. Times are this machine's local time."""

from monitor.base.moments import local_minute, zone_names
from monitor.baths.bath_view import BathView
from monitor.baths.by_products import hydrogen_litres_per_amp_hour
from monitor.baths.charge_need import Efficiency
from monitor.baths.connection import Contacts
from monitor.baths.dilution import Exponent
from monitor.baths.poured import Poured
from monitor.baths.series import Series
from monitor.baths.trend import Prospect
from monitor.model.entry import BathState, Entry, Kind
from monitor.text.bath_advice import advice_text
from monitor.text.numbers import percent

MOST_SET_UPS = 4
D007_MG_PER_LITRE = 5.0
"""Chromium that makes waste hazardous: 40 CFR 261.24, table 1, D007."""


def entry_line(entry: Entry, utc_offset_s: int | None = None) -> str:
    """One entry in one line, in local time.

    Parameters
    ----------
    utc_offset_s
        How far the clock is ahead of UTC; None for this machine's clock.

    Examples
    --------
    >>> from monitor.model.entry import Kind
    >>> entry_line(Entry("pot", Kind.TOP_UP, 0, litres=0.1, by="Ada", entry=3), 7200)
    '#3  1970-01-01 02:00  top-up of 0.1 L, by Ada'
    """
    what = entry.kind.value
    if entry.litres is not None:
        what += f" of {entry.litres:g} L"
    if entry.drawn_litres:
        what += f" after drawing off {entry.drawn_litres:g} L"
    if entry.caustic_grams is not None:
        what += f", {entry.caustic_grams:g} g"
    measured = "caustic" if entry.kind is Kind.TITRATION else entry.solution
    if entry.grams_per_litre is not None:
        what += f", {entry.grams_per_litre:g} g/L {measured}".rstrip()
    if entry.carbonate_grams_per_litre is not None:
        what += f", {entry.carbonate_grams_per_litre:g} g/L carbonate"
    if entry.amps_before is not None and entry.amps_aimed is not None:
        what += f", from {entry.amps_before:g} A to {entry.amps_aimed:g} A"
        what += "" if entry.volts is None else f" at {entry.volts:g} V"
    if entry.ohms is not None:
        what += f" of {entry.supply}: {entry.ohms * 1000.0:.1f} milliohm"
    if entry.corrects is not None:
        what += f", corrects #{entry.corrects}"
    what += f": {entry.text}" if entry.text else ""
    what += f", by {entry.by}" if entry.by else ""
    return f"#{entry.entry}  {local_minute(entry.at_utc_ns, utc_offset_s)}  {what}"


def trend_text(prospect: Prospect) -> str:
    """How the conductance changes from job to job, with its range."""
    trend = prospect.trend
    if trend is None:
        return "not enough similar jobs for a trend (it needs four)"
    middle, low, high = (
        percent(share, 1, signed=True) for share in (trend.per_job, trend.low, trend.high)
    )
    return (
        f"{middle} a job ({low} to {high}, from {trend.jobs} jobs with similar set-ups in the same "
        "solution)"
    )


def jobs_left_text(prospect: Prospect) -> str:
    """The jobs left until the peak reaches the limit, with their range."""
    if prospect.peak_amps is None or prospect.limit_amps is None or prospect.set_up is None:
        return "not known yet"
    now = (
        f"{prospect.set_up.line} peaks at {prospect.peak_amps:.2f} A; the limit is "
        f"{prospect.limit_amps:g} A"
    )
    if prospect.jobs_left == 0.0:
        return f"none: {now}"
    if prospect.jobs_left is None:
        if prospect.low is None:
            return f"no end expected: {now}"
        return f"{prospect.low:.0f} or more: {now}"
    least = prospect.jobs_left if prospect.low is None else prospect.low
    most = "or more" if prospect.high is None else f"to {prospect.high:.0f}"
    return f"about {prospect.jobs_left:.0f} ({least:.0f} {most}): {now}"


def efficiency_text(efficiency: Efficiency | None) -> str:
    """The current efficiency of the bath's finished runs."""
    if efficiency is None:
        return "not known yet: it needs finished runs with area, thickness and a water-break test"
    runs = f"{efficiency.runs} finished run{'' if efficiency.runs == 1 else 's'}"
    return (
        f"{percent(efficiency.share, 1)} ({percent(efficiency.low, 1)} to "
        f"{percent(efficiency.high, 1)} for the next run; from {runs})"
    )


def exponent_text(exponent: Exponent) -> str:
    """The dilution law and its source."""
    source = "published tables; dilutions of this bath will correct it"
    if exponent.dilutions:
        many = "" if exponent.dilutions == 1 else "s"
        source = f"{exponent.dilutions} dilution{many} of this bath"
    return f"conductance ~ concentration^{exponent.n:.2f} (+-{exponent.sd:.2f}; from {source})"


def poured_text(poured: Poured) -> str:
    """The amps that a dilution was to give, and those measured after it."""
    if poured.amps_promised is None:
        return "no target amps given"
    if poured.after is None or poured.error is None:
        return f"predicted {poured.amps_promised:.2f} A; no job since then to compare"
    return (
        f"predicted {poured.amps_promised:.2f} A, measured {poured.after.amps:.2f} A in "
        f"{poured.after.where} ({percent(poured.error, 1, signed=True)})"
    )


def contacts_text(contacts: Contacts, amps: float) -> str:
    """A supply's leads and contacts as they were measured, with the trend of the contacts.

    `amps` are those of the usual peak, for the loss in them; 0 where there is no job.
    """
    copper = "" if contacts.copper_ohms is None else f" (copper {contacts.copper_ohms * 1e3:.1f})"
    looks = ", ".join(f"{ohms * 1e3:.1f}" for ohms in contacts.looks[-4:])
    grown = "" if contacts.grown is None else f", now {contacts.grown:.1f} times the first"
    clean = ""
    if contacts.wants_cleaning(amps):
        clean = " Output OFF. CLEAN the contacts; they may be hot."
    lost = ""
    if amps > 0.0:
        volts, watts = contacts.volts_lost(amps), contacts.watts_lost(amps)
        lost = f"; at {amps:.1f} A they lose {volts:.2f} V and {watts:.1f} W"
    what = "leads and contacts" if contacts.copper_ohms is None else "contacts"
    return (
        f"{contacts.ohms * 1e3:.1f} milliohm when last measured{copper}; {what} over time: {looks}"
        f"{grown}{lost}.{clean}"
    )


def series_text(series: Series) -> str:
    """The resistance of bath, leads and contacts together in one set-up, and its trend."""
    trend = "not enough jobs for a trend"
    if series.per_job_ohms is not None and series.sd is not None:
        trend = f"{series.per_job_ohms * 1e3:+.1f} (+-{series.sd * 1e3:.1f}) a job"
    leads = ""
    if series.lead_ohms is not None:
        leads = f"; leads and contacts are {series.lead_ohms * 1e3:.1f} of it"
    look = ""
    if series.wants_a_look:
        look = (
            ". It has GROWN: bad contacts, or a bath that conducts less. Hold the clips together "
            "and measure: bathvigil bath leads"
        )
    return (
        f"{series.set_up.line}: {series.last_ohms * 1e3:.0f} milliohm after {_jobs(series.jobs)}, "
        f"{trend}{leads}{look}"
    )


def solution_text(state: BathState) -> str:
    """How much there is, how strong it is, and whether that was titrated or worked out."""
    text = "not in the ledger" if state.litres is None else f"{state.litres:.3g} L"
    if state.grams_per_litre is not None:
        text += f", {state.grams_per_litre:.0f} g/L {state.solution} by the ledger".rstrip()
    if state.carbonate_grams_per_litre is not None:
        text += f", {state.carbonate_grams_per_litre:.0f} g/L carbonate"
    if state.titrated_utc_ns is not None:
        text += f" (titrated {local_minute(state.titrated_utc_ns)[:10]})"
    elif state.grams_per_litre is not None:
        text += " (worked out, never titrated)"
    return text


def waste_text(view: BathView) -> str:
    """The chromium in the spent bath by the ledger, beside the limit of D007."""
    limit = f"D007 hazardous waste from {D007_MG_PER_LITRE:.1f} mg/L (40 CFR 261.24)"
    if not view.state.litres or view.chromium_grams_since <= 0.0:
        return f"chromium not known by the ledger; {limit}"
    mg_per_litre = view.chromium_grams_since * 1000.0 / view.state.litres
    over = f", {mg_per_litre / D007_MG_PER_LITRE:.0f} times the limit"
    if mg_per_litre < D007_MG_PER_LITRE:
        over = "; there may be more than the ledger knows"
    return f"at least {mg_per_litre:.3g} mg/L chromium by the ledger{over}; {limit}"


def facts_of_bath(view: BathView) -> list[tuple[str, str]]:
    """The bath's state as names and values."""
    state = view.state
    made = "not in the ledger"
    if state.made_up_utc_ns is not None:
        made = local_minute(state.made_up_utc_ns)[:10]
    celsius = [run.celsius for run in view.runs if run.celsius is not None]
    facts = [
        ("solution", solution_text(state)),
        ("made up", made),
        ("since then", f"{_jobs(view.jobs_since)}, {view.amp_hours_since:.2f} Ah"),
        (
            "chromium in",
            f"at least {view.chromium_grams_since:.2f} g, from finished parts of known area and "
            f"thickness; this used up {view.caustic_grams_since:.1f} g of caustic",
        ),
        ("as waste", waste_text(view)),
        (
            "hydrogen",
            f"up to {view.amp_hours_since * hydrogen_litres_per_amp_hour():.1f} L since then, with "
            "mist and oxygen: extraction on while current flows",
        ),
        ("temperature", f"{celsius[-1]:.0f} C at the last start" if celsius else "not known"),
        ("conductance", trend_text(view.prospect)),
        ("jobs left", jobs_left_text(view.prospect)),
        ("to do", advice_text(view.advice)),
        ("efficiency", efficiency_text(view.efficiency)),
        ("dilution law", exponent_text(view.exponent)),
    ]
    facts += [
        (f"{name} leads", contacts_text(contacts, view.usual_amps(name)))
        for name, contacts in view.contacts.items()
    ]
    facts += [("in series", series_text(series)) for series in view.series[:MOST_SET_UPS]]
    if view.poured:
        facts.append(("last dilution", poured_text(view.poured[-1])))
    return facts


def bath_text(view: BathView) -> str:
    """A bath as text: its state, then every entry; corrected ones are marked."""
    lines = [f"Bath {view.bath}"]
    lines += [f"  {name:<16}{value}" for name, value in facts_of_bath(view)]
    if not view.entries:
        return "\n".join([*lines, "Ledger", "  empty; begin with: bathvigil bath make-up"])
    zone = zone_names(entry.at_utc_ns for entry in view.entries)
    lines.append(f"Ledger (times are local, {zone})")
    corrected = {entry.corrects for entry in view.entries}
    for entry in view.entries:
        mark = "  (corrected)" if entry.entry in corrected else ""
        lines.append(f"  {entry_line(entry)}{mark}")
    return "\n".join(lines)


def _jobs(count: int) -> str:
    return "1 job" if count == 1 else f"{count} jobs"
