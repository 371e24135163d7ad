"""Why a strip stopped, and what happened before it: every sentence of an explanation.

Which of them is true is decided in `monitor/analysis/cause/`.
"""

from collections.abc import Iterable

from monitor.base.moments import clock
from monitor.model.explanation import Happening

OUTPUT_ON = "output on"
OUTPUT_OFF = "output off"
OUTPUT_OFF_OR_CUT_OUT = "output off?"
CUT_OUT = "cut out"

ORDINALS = ("", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")


def order_line(order: Iterable[Happening]) -> str:
    """What happened, each with its time in the run, in one line.

    >>> order_line((Happening(5.0, "output on"), Happening(739.0, "cut out")))
    '0:05 output on; 12:19 cut out'
    """
    return "; ".join(f"{clock(happening.t_s)} {happening.words}" for happening in order)


# Why it stopped. The cause itself ("slow rise", "sudden short") stands before the sentence.


def short(amps: float, volts: float, ohms: float, bath_amps: float | None) -> str:
    """A short was seen."""
    bath = "" if bath_amps is None else f", the bath draws {bath_amps:.1f} A"
    return f"{amps:.1f} A at {volts:.1f} V{bath}; {ohms:.3f} ohm, close to that of the leads"


def jumped(from_amps: float, to_amps: float) -> str:
    """The amps jumped while the volts stood."""
    return f"from {from_amps:.1f} A to {to_amps:.1f} A at once at the same volts: metal touching?"


def restarts(number: int) -> str:
    """The supply switches itself on again and cuts out again."""
    return f"the supply keeps cutting out ({number} times)"


def doubtful(peak_amps: float, limit_amps: float, unwatched_s: float | None) -> str:
    """Cut out or switched off; `unwatched_s` where nobody polled meanwhile."""
    where = f"at {peak_amps:.1f} A, {peak_amps / limit_amps:.0%} of the limit"
    if unwatched_s is not None:
        return f"{where}, not watched for {clock(unwatched_s)}: it cut out or was switched off"
    return f"{where}: it cut out or was switched off; the supply does not say which"


def volts_set_up(before: float, after: float, ago_s: float) -> str:
    """The operator turned up, and it cut out."""
    return f"the volts were turned up from {before:.1f} to {after:.1f} V {ago_s:.0f} s before"


def switched_on_too_high(volts: float, limit_amps: float, within_s: float) -> str:
    """The operator switched on at too many volts."""
    return (
        f"it was switched on at {volts:.1f} V or more, and the amps passed {limit_amps:g} A "
        f"within {within_s:.0f} s"
    )


def over_limit_for(limit_amps: float, over_s: float) -> str:
    """The supply's thermal cut-out."""
    return (
        f"the amps had been over {limit_amps:g} A for {clock(over_s)}: a thermal cut-out, or one "
        "that waits longer the smaller the overload"
    )


def near_limit_for_minutes(limit_amps: float, amps: float) -> str:
    """The supply was too warm."""
    return f"it ran near {limit_amps:g} A for minutes and cut out at {amps:.1f} A: too warm"


def far_under_limit(amps: float, limit_amps: float) -> str:
    """A cut-out that nothing explains."""
    return (
        f"it cut out at {amps:.1f} A, far under {limit_amps:g} A: a short too brief for the "
        "polls, or heat or a fault in the supply"
    )


def turned_down(volts: float) -> str:
    """The operator turned the volts down to nothing."""
    return f"the volts were turned down from {volts:.1f} V until nothing flowed"


def turned_down_and_off(volts: float) -> str:
    """The operator turned down and switched off."""
    return f"the volts were turned down from {volts:.1f} V, then the output went off"


def supply_says_off(amps: float) -> str:
    """The supply itself says that it was switched off."""
    return f"the supply says that it was switched off at {amps:.1f} A, with no sign of a cut-out"


def switched_off(amps: float) -> str:
    """The operator switched off."""
    return f"switched off at {amps:.1f} A, with no sign of a cut-out"


def off_between_polls(amps: float, unseen_s: float) -> str:
    """Nobody saw the moment."""
    return (
        f"the output went off at {amps:.1f} A between two polls {unseen_s:.1f} s apart: "
        "switched off, or a short too brief for them"
    )


def at_limit_again_at_once(peak_amps: float, within_s: float) -> str:
    """The same bath, just switched on again."""
    return f"the same bath drew {peak_amps:.1f} A again within {within_s:.0f} s of switching on"


def rose(start_amps: float, peak_amps: float, took_s: float) -> str:
    """A slow rise."""
    return f"from {start_amps:.1f} A to {peak_amps:.1f} A in {clock(took_s)} at the same volts"


def at_limit_again(start_amps: float) -> str:
    """The same bath, back at its amps."""
    return f"the same bath drew {start_amps:.1f} A again as soon as it was on"


def stood_near_limit(limit_amps: float) -> str:
    """No rise: a peak passed the limit."""
    return f"the amps stayed near {limit_amps:g} A all the time and a peak passed it"


def readings_stopped(amps: float | None, reason: str) -> str:
    """The link or the mains; `amps` is None with the output off."""
    was = "with the output off" if amps is None else f"while {amps:.1f} A flowed"
    return f"the readings stopped {was} ({reason}): the supply has no mains, or the link is lost"


def series(number: int, within_s: float, cooled_s: float | None) -> str:
    """The cut-outs before this one."""
    many = ORDINALS[number] if number < len(ORDINALS) else f"{number}th"
    cooled = "" if cooled_s is None else f"; last time it took {clock(cooled_s)} to cool"
    return f"{many} cut-out in {max(round(within_s / 60.0), 1)} min{cooled}"


# What happened before it, with its time.


def no_data(reason: str) -> str:
    """The polls are not answered."""
    return f"no data: {reason}"


def data_back(is_on: bool) -> str:
    """The polls are answered again."""
    return f"data came back, the output {'on' if is_on else 'off'}"


def short_seen(amps: float, volts: float) -> str:
    """A short began."""
    return f"short: {amps:.1f} A at {volts:.1f} V"


def jump_seen(from_amps: float, to_amps: float) -> str:
    """The amps jumped."""
    return f"amps jumped: {from_amps:.1f} to {to_amps:.1f} A"


def on_again(cooled_s: float) -> str:
    """The output is on after a cut-out."""
    return f"on again after {clock(cooled_s)}"


def near_limit(share: float, amps: float) -> str:
    """The amps came near the limit."""
    return f"over {share:.0%} of the limit: {amps:.1f} A"


def settled(volts: float, amps: float) -> str:
    """Volts and amps after a soft start."""
    return f"{volts:.1f} V, {amps:.1f} A"


def volts_set(before: float, after: float) -> str:
    """The volts were changed."""
    return f"volts set from {before:.1f} to {after:.1f} V"
