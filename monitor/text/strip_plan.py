"""A plan in lines: what to expect, which volts to choose, and what is not known."""

from monitor.model.strip_plan import Basis, Outlook, Range, StripPlan, Unknown
from monitor.text.numbers import about, amp_hours_text, amps_text, figure

SURE, UNSURE, LITTLE = 0.9, 0.25, 0.02
"""Chances of a cut-out, from which on it is called certain, likely, possible."""
AT_ONCE_S = 20.0
BY = {
    Basis.LIKE_JOBS_AT_25: "by like jobs",
    Basis.LIKE_JOBS: "by like jobs; their temperature is not known",
    Basis.DENSITY: "by the step's current density; no like job is stored",
}
NOT_KNOWN = {
    Unknown.AREA: "The area of the part: give --area, such as '4.5 dm2' or '2 tubes 22 x 600 mm'.",
    Unknown.CHROMIUM: "The thickness of the chromium: give --chromium, such as '0.3 um'.",
    Unknown.AMPS: "What a like job draws: record one with --part or --area on its card.",
    Unknown.EFFICIENCY: "How much charge this bath takes: enter the result of a finished run.",
    Unknown.EARLIER_RUNS: "How this bath warms and drifts: no earlier run of it is long enough.",
    Unknown.CELSIUS: "The temperature of the bath: give --celsius.",
    Unknown.WARMTH: "How warm the last run has left the bath: it has not ended.",
    Unknown.LITRES: "The litres in the bath: give --bath-litres, or write them into bench.toml.",
}
FIRST_LOOK = "It is a plan, not a promise: watch the strip, and look at the part."


def plan_lines(plan: StripPlan) -> list[str]:
    """All of a plan, the most important first."""
    lines = [choice(plan)]
    lines += _expected(plan)
    if plan.unknown:
        lines.append("Not known:")
        lines += [f"  {NOT_KNOWN[name]}" for name in plan.unknown]
    return [*lines, FIRST_LOOK]


def card_plan(plan: StripPlan) -> list[str]:
    """A plan for the start card: two sentences, and what is not known by name."""
    first, *expected = [choice(plan), *_expected(plan)]
    lines = [f"PLAN: {first}", " ".join(expected)]
    if plan.unknown:
        lines.append(f"Not known: {', '.join(plan.unknown)}.")
    return [line for line in lines if line]


def choice(plan: StripPlan) -> str:
    """What to set before the current flows, in one sentence."""
    asked, chosen, limit = plan.asked, plan.chosen, amps_text(plan.limit_amps)
    if plan.is_too_low:
        return "At so few volts hardly any current flows: plan for more volts."
    if asked is None:
        return "The amps cannot be told before: start at low volts, and raise them in steps."
    if plan.holds:
        over = "" if asked.chance_of_trip < UNSURE else f"; the supply then holds {limit}"
        return f"Set {asked.volts:g} V{over}."
    if chosen is not None:
        volts = f"Set {chosen.volts:g} V, not {asked.volts:g} V"
        if plan.pause_s > 0.0:
            rest = about(plan.pause_s).removeprefix("about ")
            return f"Let the bath cool for {rest}. Then set {chosen.volts:g} V."
        return f"{volts}: at {asked.volts:g} V {_too_much(asked, plan)}."
    if not plan.will_do:
        return (
            f"No volts in the step's window will do: at {asked.volts:g} V "
            f"{_too_much(asked, plan)}. Let the bath cool, hang up less area, or dilute it "
            "(`bathvigil bath advise`)."
        )
    return f"Set {asked.volts:g} V: no cut-out is likely."


def _too_much(outlook: Outlook, plan: StripPlan) -> str:
    most = plan.most_amps
    if outlook.chance_of_trip >= UNSURE:
        if outlook.amps.low > plan.limit_amps:
            return "the supply cuts out at once"
        soon = outlook.trip_in_s is not None and outlook.trip_in_s < AT_ONCE_S
        when = " at once" if soon else ""
        if outlook.trip_in_s is not None and not soon:
            when = f" after {about(outlook.trip_in_s)}"
        word = "will" if outlook.chance_of_trip >= SURE else "may"
        return f"the supply {word} cut out{when}"
    if most is not None and max(outlook.amps.middle, outlook.end_amps) > most:
        return f"the part gets more than the {amps_text(most)} that it stands"
    return "the supply may cut out in the first minutes, before anybody can act"


def _expected(plan: StripPlan) -> list[str]:
    lines = []
    outlook = plan.chosen or plan.asked
    if outlook is not None and plan.basis is not None:
        amps = f"{_span(outlook.amps)} A at {outlook.volts:g} V"
        lines.append(f"Amps after switching on: {amps} ({BY[plan.basis]}).")
    if plan.charge is not None:
        lines.append(f"Charge: {_span(plan.charge)} Ah, by this bath's finished runs.")
    elif plan.least_charge is not None:
        least = amp_hours_text(plan.least_charge)
        lines.append(
            f"Charge: at least {least} by Faraday's law; the bath takes more, and no finished run "
            "tells how much."
        )
    if outlook is None:
        return lines
    if outlook.seconds is not None:
        minutes = _minutes(outlook.seconds)
        end = f"{figure(outlook.end_amps)} A and {outlook.warming:.1f} K warmer at the end"
        lines.append(f"Time with current: {minutes}; {end}{_end_celsius(plan, outlook)}.")
    else:
        after = about(outlook.watched_s).removeprefix("about ")
        lines.append(
            f"After {after}: {figure(outlook.end_amps)} A, {outlook.warming:.1f} K warmer"
            f"{_end_celsius(plan, outlook)}. When it ends is not known."
        )
    if not plan.holds:
        lines.append(f"Chance of a cut-out by then: {_chance(outlook.chance_of_trip)}.")
    return lines


def _end_celsius(plan: StripPlan, outlook: Outlook) -> str:
    return "" if plan.celsius is None else f" ({plan.celsius + outlook.warming:.0f} C)"


def _span(of: Range) -> str:
    return f"{figure(of.middle)} ({figure(of.low)} to {figure(of.high)})"


def _minutes(seconds: Range) -> str:
    low, middle, high = (value / 60.0 for value in seconds)
    return f"{middle:.0f} min ({low:.0f} to {high:.0f})"


def _chance(chance: float) -> str:
    """No sharper than it is.

    >>> _chance(0.004), _chance(0.31), _chance(0.97)
    ('under 2 %', 'about 30 %', 'over 90 %')
    """
    if chance < LITTLE:
        return "under 2 %"
    if chance > SURE:
        return "over 90 %"
    tenth = round(chance * 10.0) * 10
    return f"about {tenth} %" if tenth else "under 10 %"
