"""A bath's ledger in, plain text for people out; rounding is decided here."""

from monitor.base.moments import utc_text
from monitor.baths.bath_view import BathView
from monitor.baths.by_products import hydrogen_litres_per_amp_hour
from monitor.baths.charge_need import Efficiency
from monitor.baths.connection import Contacts
from monitor.baths.dilution import SLEEVE, Advice, Exponent, Remedy
from monitor.baths.poured import Poured
from monitor.baths.series import Series
from monitor.baths.trend import Prospect
from monitor.model.entry import Entry

MOST_SET_UPS = 4


def entry_line(entry: Entry) -> str:
    """One entry in one line.

    Examples
    --------
    >>> from monitor.model.entry import Kind
    >>> entry_line(Entry("pot", Kind.TOP_UP, 0, litres=0.1, by="Ada", entry=3))
    '#3  1970-01-01 00:00 UTC  top-up of 0.1 L, by Ada'
    """
    what = entry.kind.value
    if entry.litres is not None:
        what += f" of {entry.litres:g} L"
    if entry.drawn_litres:
        what += f" after {entry.drawn_litres:g} L were drawn off"
    if entry.grams_per_litre is not None:
        what += f", {entry.grams_per_litre:g} g/L {entry.solution}".rstrip()
    if entry.amps_before is not None and entry.amps_aimed is not None:
        what += f", from {entry.amps_before:g} A to {entry.amps_aimed:g} A"
        what += "" if entry.volts is None else f" at {entry.volts:g} V"
    if entry.ohms is not None:
        what += f" of {entry.supply}: {entry.ohms * 1000.0:.1f} milliohm"
    if entry.corrects is not None:
        what += f", in the place of #{entry.corrects}"
    what += f": {entry.text}" if entry.text else ""
    what += f", by {entry.by}" if entry.by else ""
    moment = utc_text(entry.at_utc_ns)[:16].replace("T", " ")
    return f"#{entry.entry}  {moment} UTC  {what}"


def per_cent(share: float, sign: bool = True) -> str:
    """A share with one decimal.

    >>> per_cent(0.0123), per_cent(-0.2), per_cent(0.25, sign=False)
    ('+1.2 %', '-20.0 %', '25.0 %')
    """
    return f"{share * 100.0:{'+' if sign else ''}.1f} %"


def trend_text(prospect: Prospect) -> str:
    """How the conductance goes, with its range."""
    trend = prospect.trend
    if trend is None:
        return "too few like jobs for a trend yet (four are needed)"
    return (
        f"{per_cent(trend.per_job)} a job ({per_cent(trend.low)} to {per_cent(trend.high)}, "
        f"from {trend.jobs} jobs; only like set-ups and the same solution are compared)"
    )


def jobs_left_text(prospect: Prospect) -> str:
    """What is ahead, with its range."""
    if prospect.peak_amps is None or prospect.limit_amps is None or prospect.set_up is None:
        return "not known yet"
    now = (
        f"{prospect.set_up.line} peaks at {prospect.peak_amps:.2f} A, the limit is "
        f"{prospect.limit_amps:g} A"
    )
    if prospect.jobs_left == 0.0:
        return f"none: {now}"
    if prospect.jobs_left is None:
        if prospect.low is None:
            return f"no end in sight: {now}"
        return f"{prospect.low:.0f} or more: {now}"
    most = "open" if prospect.high is None else f"{prospect.high:.0f}"
    least = prospect.jobs_left if prospect.low is None else prospect.low
    return f"about {prospect.jobs_left:.0f} ({least:.0f} to {most}): {now}"


def efficiency_text(efficiency: Efficiency | None) -> str:
    """What finished runs had."""
    if efficiency is None:
        return "not known yet: it needs finished runs with area, thickness and a wetting test"
    runs = f"{efficiency.runs} finished run{'' if efficiency.runs == 1 else 's'}"
    return (
        f"{per_cent(efficiency.share, False)} ({per_cent(efficiency.low, False)} to "
        f"{per_cent(efficiency.high, False)} for a next run; {runs})"
    )


def exponent_text(exponent: Exponent) -> str:
    """The dilution law and where it comes from."""
    whose = "published tables; this bath's dilutions will correct it"
    if exponent.dilutions:
        many = "" if exponent.dilutions == 1 else "s"
        whose = f"{exponent.dilutions} dilution{many} of this bath"
    return f"conductance ~ concentration^{exponent.n:.2f} (+-{exponent.sd:.2f}; {whose})"


def poured_text(poured: Poured) -> str:
    """How a dilution kept its promise."""
    if poured.amps_promised is None:
        return "no amps were aimed at"
    if poured.after is None or poured.error is None:
        return f"promised {poured.amps_promised:.2f} A; no job has shown yet what it came to"
    return (
        f"promised {poured.amps_promised:.2f} A, found {poured.after.amps:.2f} A in "
        f"{poured.after.where} ({per_cent(poured.error)})"
    )


def to_do_text(
    told: Advice | None, is_swab: bool = False, holds_litres: float | None = None
) -> str:
    """What to do about a bath by itself; with its vessel's room, where that is known."""
    if told is None:
        return "not known: it needs the litres in the ledger, and two like jobs since the make-up"
    if told.remedy is Remedy.NOTHING:
        return f"nothing. {told.why}"
    lines = [*advice_lines(told)[:1], "The aim is what the usual job drew in the fresh bath."]
    if told.remedy is Remedy.DILUTE and holds_litres is None:
        lines.append("Look whether there is room for it; what is drawn off first is waste.")
    if is_swab:
        lines.append(SLEEVE)
    return " ".join(lines)


def _to_do(view: BathView) -> str:
    if not view.runs:
        return to_do_text(view.advice)
    newest = view.runs[-1]
    return to_do_text(view.advice, newest.set_up.way == "swab", newest.holds_litres)


def contacts_text(found: Contacts, amps: float) -> str:
    """Leads and contacts of a supply as they were looked at, with the trend of the contacts.

    `amps` are those of its usual peak, for what is lost in them; 0 where there is no job.
    """
    copper = "" if found.copper_ohms is None else f", of it copper {found.copper_ohms * 1e3:.1f}"
    looks = ", ".join(f"{one * 1e3:.1f}" for one in found.looks[-4:])
    grown = "" if found.grown is None else f"; {found.grown:.1f} times the first look's"
    clean = " CLEAN them, output off; they may be hot." if found.wants_cleaning(amps) else ""
    lost = ""
    if amps > 0.0:
        volts, watts = found.volts_lost(amps), found.watts_lost(amps)
        lost = f"; at {amps:.1f} A they take {volts:.2f} V and {watts:.1f} W"
    what = "leads and contacts" if found.copper_ohms is None else "contacts"
    return (
        f"{found.ohms * 1e3:.1f} milliohm at the last look{copper}; {what} look by look {looks}"
        f"{grown}{lost}.{clean}"
    )


def series_text(one: Series) -> str:
    """What bath, leads and contacts take together in one set-up, and how that goes."""
    trend = "too few jobs for a trend"
    if one.per_job_ohms is not None and one.sd is not None:
        trend = f"{one.per_job_ohms * 1e3:+.1f} (+-{one.sd * 1e3:.1f}) a job"
    own = "" if one.lead_ohms is None else f", of it leads and contacts {one.lead_ohms * 1e3:.1f}"
    look = ""
    if one.wants_a_look:
        look = (
            ". It has GROWN: the contacts, or a bath that conducts less; hold the clips together "
            "and look: bathvigil bath leads"
        )
    return (
        f"{one.set_up.line}: {one.last_ohms * 1e3:.0f} milliohm over {_jobs(one.jobs)}, "
        f"{trend}{own}{look}"
    )


def facts_of_bath(view: BathView) -> list[tuple[str, str]]:
    """The bath's state as names and values."""
    state = view.state
    litres = "not written down" if state.litres is None else f"{state.litres:.3g} L"
    if state.grams_per_litre is not None:
        litres += f", {state.grams_per_litre:.0f} g/L {state.solution} by the ledger".rstrip()
    made = "not written down"
    if state.made_up_utc_ns is not None:
        made = utc_text(state.made_up_utc_ns)[:10]
    celsius = [run.celsius for run in view.runs if run.celsius is not None]
    facts = [
        ("solution", litres),
        ("made up", made),
        ("since then", f"{_jobs(view.jobs_since)}, {view.amp_hours_since:.2f} Ah"),
        (
            "chromium in",
            f"{view.chromium_grams_since:.2f} g at least, from finished parts of known area and "
            f"thickness; it used up {view.caustic_grams_since:.1f} g of caustic",
        ),
        (
            "hydrogen",
            f"up to {view.amp_hours_since * hydrogen_litres_per_amp_hour():.1f} L since then, with "
            "mist and oxygen: exhaust on while current flows",
        ),
        ("temperature", f"{celsius[-1]:.0f} C at the last start" if celsius else "not known"),
        ("conductance", trend_text(view.prospect)),
        ("jobs left", jobs_left_text(view.prospect)),
        ("to do", _to_do(view)),
        ("efficiency", efficiency_text(view.efficiency)),
        ("dilution law", exponent_text(view.exponent)),
    ]
    facts += [
        (f"{name} leads", contacts_text(found, view.usual_amps(name)))
        for name, found in view.contacts.items()
    ]
    facts += [("in series", series_text(one)) for one in view.series[:MOST_SET_UPS]]
    if view.poured:
        facts.append(("last dilution", poured_text(view.poured[-1])))
    return facts


def bath_text(view: BathView) -> str:
    """A bath as text: its state, then every entry; corrected ones are marked."""
    lines = [f"Bath {view.bath}"]
    lines += [f"  {name:<16}{value}" for name, value in facts_of_bath(view)]
    lines.append("Ledger")
    corrected = {one.corrects for one in view.entries}
    for entry in view.entries:
        gone = "  (corrected)" if entry.entry in corrected else ""
        lines.append(f"  {entry_line(entry)}{gone}")
    if not view.entries:
        lines.append("  nothing yet; begin with: bathvigil bath make-up")
    return "\n".join(lines)


def advice_lines(told: Advice, is_swab: bool = False) -> list[str]:
    """What to do, as lines."""
    head = told.remedy.value.upper()
    if told.remedy is not Remedy.DILUTE:
        return [f"{head}. {told.why}"]
    drawn = f"draw off {told.drawn_litres:.2f} L, then " if told.drawn_litres > 0.0 else ""
    lines = [
        f"{head}: {drawn}add {told.water_litres:.2f} L of distilled water "
        f"({told.low_litres:.2f} to {told.high_litres:.2f}). {told.why}",
        "Pour the smaller amount first, stir, measure again.",
    ]
    if told.grams_per_litre is not None:
        lines.append(f"It is then at {told.grams_per_litre:.0f} g/L by the ledger.")
    if is_swab:
        lines.append(SLEEVE)
    return lines


def _jobs(count: int) -> str:
    return "1 job" if count == 1 else f"{count} jobs"
