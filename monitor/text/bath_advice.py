"""What to do about a bath in words: the deed first, then its reason.

Numbers that can be named are named; where hands go in, the output is off first.
"""

from monitor.model.advice import Advice, Reason, Remedy
from monitor.text.numbers import percent

COOL_ENOUGH = "under 38 C (100 F)"
"""Additions only to a cool bath (Metal Finishing Guidebook 2011-12, cleaning, p. 73)."""
SLEEVE = (
    "Flush the sleeve with distilled water and let it drain, or it brings the old solution back."
)
NOT_KNOWN = "not known: it needs the litres in the ledger and two similar jobs since make-up"


def advice_lines(advice: Advice) -> list[str]:
    """The advice as lines, the deed in the first.

    Examples
    --------
    >>> for line in advice_lines(Advice(Remedy.NOTHING, Reason.FAR_FROM_LIMIT)):
    ...     print(line)
    Nothing to do. It is far from the supply's limit.
    """
    lines = [f"{deed(advice)} {reason(advice)}"]
    match advice.remedy:
        case Remedy.DILUTE:
            lines.append("Pour the smaller amount first, stir, measure again.")
            if advice.grams_after is not None:
                lines.append(f"The bath is then at {advice.grams_after:.0f} g/L by the ledger.")
            if not advice.has_known_room:
                lines.append("Check that there is room for it. What you draw off is waste.")
            if advice.is_swab:
                lines.append(SLEEVE)
        case Remedy.STRENGTHEN:
            lines.append("A little at a time: it heats the bath. Stir, then titrate again.")
        case Remedy.FIND_OUT:
            lines.append(
                "Then measure against a fresh reference: the same part and volts in fresh solution."
            )
            lines.append("Change nothing in the bath before both agree.")
        case _:
            pass
    if advice.aims_at_fresh and advice.remedy is Remedy.DILUTE:
        lines.append("The target is what the usual job drew in the fresh bath.")
    return lines


def advice_text(advice: Advice | None) -> str:
    """The advice in one paragraph."""
    return NOT_KNOWN if advice is None else " ".join(advice_lines(advice))


def deed(advice: Advice) -> str:
    """What the hand does now."""
    match advice.remedy:
        case Remedy.NOTHING:
            return "Nothing to do."
        case Remedy.COOL:
            return "Output OFF. Let the bath cool. Add no water."
        case Remedy.DILUTE:
            drawn = ""
            if advice.drawn_litres > 0.0:
                drawn = f"Draw off {advice.drawn_litres:.2f} L first: it is hazardous waste. "
            cool = " Let the bath cool first." if advice.is_warm else ""
            return (
                f"Output OFF.{cool} {drawn}Add {advice.water_litres:.2f} L distilled water "
                f"({advice.low_litres:.2f} to {advice.high_litres:.2f}), slowly, to a bath "
                f"{COOL_ENOUGH}."
            )
        case Remedy.STRENGTHEN:
            return (
                f"Output OFF. Add {advice.caustic_grams:.0f} g caustic, slowly, to a bath "
                f"{COOL_ENOUGH}."
            )
        case Remedy.FIND_OUT:
            return "Output OFF. Take a sample and titrate it."
        case Remedy.REPLACE:
            return "Output OFF. Replace the bath; the old one is hazardous waste."


def reason(advice: Advice) -> str:
    """Why that, with its numbers."""
    now, least = _strength(advice.grams_per_litre), _strength(advice.least_grams_per_litre)
    excess = advice.excess or 0.0
    match advice.reason:
        case Reason.FAR_FROM_LIMIT:
            return "It is far from the supply's limit."
        case Reason.DRAWS_NO_MORE:
            return "It draws no more than it should."
        case Reason.IS_WARM:
            return (
                f"Warming explains it: at {advice.usual_celsius:.0f} C it would draw "
                f"{advice.amps_cool:.1f} A."
            )
        case Reason.CONDUCTS_MORE:
            return f"The solution itself conducts {percent(excess)} more than it should."
        case Reason.WATER_WOULD_WEAKEN:
            return (
                f"It conducts {percent(excess)} more than it should, but by the ledger water would "
                f"bring it to {_strength(advice.grams_after)}, under the working strength of "
                f"{least}: ledger and meters disagree."
            )
        case Reason.LEDGER_SAYS_WEAK:
            return (
                f"By the ledger it has {now}, under the working strength of {least}; nobody has "
                "titrated it."
            )
        case Reason.WEAK_YET_DRAWS_MORE:
            return (
                f"It was titrated at {now}, under the working strength of {least}, yet it conducts "
                f"{percent(excess)} more than it should: ledger and meters disagree."
            )
        case Reason.CONDUCTS_LESS:
            return (
                f"It conducts {percent(-excess)} less than fresh, and the ledger's {now} does not "
                "explain that. Look at clips and leads, too."
            )
        case Reason.TITRATED_WEAK:
            return (
                f"It was titrated at {now}, under the working strength of {least}; this brings it "
                f"to {_strength(advice.grams_after)}."
            )
        case Reason.MUCH_CARBONATE:
            return (
                f"It was titrated at {now} caustic, under the working strength of {least}, with "
                f"{_strength(advice.carbonate_grams_per_litre)} carbonate."
            )


def _strength(grams_per_litre: float | None) -> str:
    return "strength" if grams_per_litre is None else f"{grams_per_litre:.0f} g/L"
