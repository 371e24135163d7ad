"""Why the amps rose, and the charge so far, in plain lines.

What was measured is stated. What may lie behind it is listed as usual reasons, never as fact:
warming, lost water, carbonate and dissolved metal all look alike from the supply's side.
"""

from monitor.model.estimate import Charge, Estimate
from monitor.text.numbers import amp_hours_text, celsius_text, percent

SMALL_CHANGE = 0.02
"""A change of conductance below this is told as none."""


def rise_lines(estimate: Estimate | None) -> tuple[str, ...]:
    """What the change of the bath's conductance is made of, most important line first."""
    rise = None if estimate is None else estimate.rise_since_start
    if estimate is None or rise is None:
        return ("the conductance of the bath is not known yet",)
    if abs(rise) < SMALL_CHANGE:
        return ("the bath conducts as it did at the start of this run", *_warmth(estimate))
    if rise < 0.0:
        return (
            f"the bath conducts {percent(-rise)} less than at the start of this run",
            "usual reasons: a poorer contact, less area wetted, chromium gone, a cooler bath",
            *_warmth(estimate),
        )
    measured = f"the bath conducts {percent(rise)} more than at the start of this run"
    warming = _warming(estimate, rise)
    if warming is None:
        return (
            measured,
            "usual reasons: a warmer bath, water lost, carbonate or metal taken up",
            *_warmth(estimate),
        )
    rest = (1.0 + rise) / (1.0 + warming) - 1.0
    if abs(rest) < SMALL_CHANGE and warming < rest:
        return (
            f"{measured}; too little to say how much of it is warming",
            "usual reasons: a warmer bath, water lost, carbonate or metal taken up",
            *_warmth(estimate),
        )
    if abs(rest) < SMALL_CHANGE:
        return (f"{measured}; warming explains it", "against warming: a pause", *_warmth(estimate))
    if rest < 0.0:
        return (
            f"{measured}; warming alone would have made it {percent(warming)}",
            "usual reasons for the part lost: chromium gone, less area wetted, a poorer contact,"
            " caustic used up",
            "against warming: a pause",
            *_warmth(estimate),
        )
    if warming < SMALL_CHANGE:
        return (
            f"{measured}; warming explains little or none of it",
            "usual reasons: water lost, carbonate or metal taken up, more area wetted",
            "against that: distilled water or fresh solution",
            *_warmth(estimate),
        )
    return (
        f"{measured}; warming explains about {percent(warming)}",
        f"usual reasons for the other {percent(rest)}: water lost, carbonate or metal taken up,"
        " more area wetted",
        "against warming: a pause; against the rest: distilled water or fresh solution",
        *_warmth(estimate),
    )


def _warming(estimate: Estimate, rise: float) -> float | None:
    """The rise that warming alone would have made; runs of old kept its share only."""
    if estimate.warming_rise is not None or estimate.warming_share is None:
        return estimate.warming_rise
    return float((1.0 + rise) ** estimate.warming_share) - 1.0


def charge_line(charge: Charge) -> str:
    """Charge so far, how much of the run's time was recorded, and its bounds where that matters."""
    line = f"{amp_hours_text(charge.amp_hours)} ({percent(charge.coverage, 1)} recorded)"
    if charge.amp_hours_high > charge.amp_hours * 1.01:
        low, high = amp_hours_text(charge.amp_hours_low), amp_hours_text(charge.amp_hours_high)
        line += f", between {low} and {high}"
    return line


def _warmth(estimate: Estimate) -> tuple[str, ...]:
    if estimate.celsius is None:
        return ()
    return (f"bath at about {celsius_text(estimate.celsius)}",)
