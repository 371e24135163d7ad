"""An estimate or an alarm's name in; plain lines out: why the amps rose and what to do about it.

What was measured is stated; what may lie behind it is listed as usual reasons, never as fact,
since warming, water lost, carbonate and metal taken up all look alike from the supply's side.
"""

from monitor.alarms.catalogue import BY_NAME
from monitor.model.alarm import AlarmEvent, AlarmName
from monitor.model.estimate import Charge, Estimate
from monitor.text.numbers import amp_hours_text, celsius_text, percent

SMALL_CHANGE = 0.02
"""A change of conductance below this is told as none."""

RULES = "Follow the chemical's SDS and local codes. This screen is not an interlock."

CAUTIONS: dict[str, str] = {
    AlarmName.TRIP_EXPECTED: (
        "Caustic: gloves and goggles. Top up with distilled water or fresh solution slowly, with "
        "the output off."
    ),
    AlarmName.TRIPPED: (
        "Output off before leads or clips are touched; gas over the bath burns, so no sparks. The"
        " same bath trips again: distilled water or fresh solution."
    ),
    AlarmName.CURRENT_LIMITED: (
        "Leads, clips and sleeve run hot. Distilled water or fresh solution if the bath stays so."
    ),
    AlarmName.WATCH_FAILED: "Nothing here warns you until it is back.",
    AlarmName.WRONG_SUPPLY: "Nothing here warns you until it is back.",
    AlarmName.HOST_PAUSED: "What happened meanwhile is not known; look before you go on.",
    AlarmName.NOT_RECORDING: "What waits in memory is lost if this machine goes off.",
    AlarmName.NOTICE_FAILED: "Nobody who is away is told; this screen and its sound go on.",
    AlarmName.DISK_LOW: "Delete no store of runs; move other files.",
    AlarmName.FORWARD_BEHIND: (
        "Alarms here go on; whoever looks at the server sees an old picture."
    ),
    AlarmName.PART_FAILED: (
        "What has failed warns no more; go by the supply's own meters till it is back."
    ),
    AlarmName.NO_DATA: "Nothing here warns you until it is back.",
    AlarmName.SHORT: "Output off before anything is moved.",
    AlarmName.AMPS_JUMPED: "Output off before anything is moved; a spark lights the gas.",
    AlarmName.REVERSED: "The counter-electrode may dissolve into the bath while this lasts.",
    AlarmName.READINGS_FROZEN: "Nothing here warns you until the readings move again.",
    AlarmName.LIMIT_WRONG: "The supply may cut out without a warning from here.",
    AlarmName.MARGIN_SMALL: "Hot work and hot leads burn. Caustic: gloves and goggles.",
    AlarmName.NO_CURRENT: "A clip that comes back under volts makes a spark; sparks light gas.",
    AlarmName.VOLTS_HIGH: "High volts warm part and bath and can scorch the surface.",
    AlarmName.TIME_OVER: "Bare nickel gets passive and may smut; activate it before new plating.",
    AlarmName.STILL_ON: "Output off before the part is taken out; a spark lights the gas.",
    AlarmName.DENSITY_HIGH: "Hot work burns. Caustic: gloves and goggles.",
    AlarmName.CONNECTION_RESISTANCE: (
        "Output off before leads or clips are touched; a spark lights the gas over the bath."
    ),
    AlarmName.OUTSIDE_VOLTAGE_WINDOW: "Caustic: gloves and goggles at the bath.",
    AlarmName.OVERHEATING: "Hot work and hot solution burn. Do not quench the part by hand.",
}
"""The usual cautions that go with an alarm's action."""


def what_to_do(alarm: str) -> str:
    """What the operator should do about this alarm now; "" for an alarm that nobody knows."""
    kind = BY_NAME.get(alarm)
    return "" if kind is None else kind.action


def action_of(event: AlarmEvent) -> str:
    """What the operator should do about this occurrence."""
    return event.action or what_to_do(event.alarm)


def caution(alarm: str) -> str:
    """The caution that goes with it; "" where there is none."""
    return CAUTIONS.get(alarm, "")


def rise_lines(estimate: Estimate | None) -> tuple[str, ...]:
    """What the change of the bath's conductance is made of, most telling line first."""
    rise = None if estimate is None else estimate.rise_since_start
    if estimate is None or rise is None:
        return ("how the bath conducts is not known yet",)
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
            f"{measured}; that is too little to say how much of it is warming",
            "usual reasons: a warmer bath, water lost, carbonate or metal taken up",
            *_warmth(estimate),
        )
    if abs(rest) < SMALL_CHANGE:
        return (f"{measured}; warming explains it", "warming asks for a pause", *_warmth(estimate))
    if rest < 0.0:
        return (
            f"{measured}; warming alone would have made it {percent(warming)}",
            "usual reasons for the part lost: chromium gone, less area wetted, a poorer contact,"
            " caustic used up",
            "warming asks for a pause",
            *_warmth(estimate),
        )
    if warming < SMALL_CHANGE:
        return (
            f"{measured}; warming explains little or none of it",
            "usual reasons: water lost, carbonate or metal taken up, more area wetted",
            "that asks for distilled water or fresh solution",
            *_warmth(estimate),
        )
    return (
        f"{measured}; warming explains about {percent(warming)}",
        f"usual reasons for the other {percent(rest)}: water lost, carbonate or metal taken up,"
        " more area wetted",
        "warming asks for a pause, the rest for distilled water or fresh solution",
        *_warmth(estimate),
    )


def _warming(estimate: Estimate, rise: float) -> float | None:
    """The rise that warming alone would have made; runs of old kept its share only."""
    if estimate.warming_rise is not None or estimate.warming_share is None:
        return estimate.warming_rise
    return float((1.0 + rise) ** estimate.warming_share) - 1.0


def charge_line(charge: Charge) -> str:
    """Charge so far, and how much of the run's time it rests on."""
    passed, share = amp_hours_text(charge.amp_hours), percent(charge.coverage, 1)
    line = f"{passed} passed, from {share} of the time"
    if charge.amp_hours_high > charge.amp_hours * 1.01:
        low, high = amp_hours_text(charge.amp_hours_low), amp_hours_text(charge.amp_hours_high)
        line += f" (between {low} and {high})"
    return line


def _warmth(estimate: Estimate) -> tuple[str, ...]:
    if estimate.celsius is None:
        return ()
    return (f"bath at about {celsius_text(estimate.celsius)}",)
