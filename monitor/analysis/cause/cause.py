"""The evidence at a stop in; its cause and a sentence about it out. The first rule that holds wins.

1. A short seen in the last seconds: a sudden short.
2. An output that went off near the limit, and nothing that says why: not seen; cut out or
   switched off.
3. A supply that has not cut out was switched off, or its volts were set down: the operator; but
   where it does not say so itself and the polls are far apart, a short may have hidden between.
4. Volts set up a moment before the limit was passed, or an output switched on at too many volts for
   a bath that has not cut it out before: the operator.
5. Amps over the limit for long before the cut-out: heat, by the supply's thermal cut-out, or by one
   that waits as long as heat would.
6. Amps at the limit: a slow rise, from where they stood when the volts were set.
7. A cut-out well under the limit, with little heat before: not seen; the polls are too far apart,
   or it is the supply's own.
"""

from dataclasses import dataclass

from monitor.analysis.short import Short
from monitor.model.explanation import Cause

THERMAL_S = 10.0
"""An over-current cut-out comes within a second or two; one that waits so long goes by heat, or by
a curve like those of IEC 60255-151, which all wait longer at 1.1 times their setting."""
NEAR = 0.9
HOT = 0.85
"""Share of the limit that a supply stood at for minutes before heat is suspected under it."""
SET_WITHIN_S = 20.0
SAME_BATH = 0.85
UNWATCHED_S = 5.0
SEEN_S = 0.3
"""A short lasts about so long before the supply is out; polls as close as this see it."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What is known when a strip stops.

    Parameters
    ----------
    limit_amps
        Where the supply cuts out.
    is_cut_out, may_be_cut_out
        Whether the supply has cut out, rather than been switched off; whether it may have.
    says_off
        Whether the supply itself says that its output is off.
    amps, volts, peak_amps
        The last ones that flowed, and the highest of the last seconds.
    start_amps, start_ago_s
        Amps when the volts were last set, and how long ago that was; None where that is too near.
    over_s
        How long the amps had stood over the limit.
    unseen_s
        Between the last sample with current and the first without.
    mean_share
        Mean square of amps over limit in the last minutes.
    set_from_volts, set_ago_s
        What the volts were set from last, and how long ago; None where they were not.
    turned_down_from
        The volts from which they were turned down until nothing flowed; None where they were not.
    short
        A short seen in the last seconds.
    came_before
        Whether the same bath has cut the supply out before.
    """

    limit_amps: float
    is_cut_out: bool
    says_off: bool
    amps: float
    volts: float
    peak_amps: float
    start_amps: float | None
    start_ago_s: float
    over_s: float
    mean_share: float
    unseen_s: float = 0.2
    set_from_volts: float | None = None
    set_ago_s: float = 0.0
    turned_down_from: float | None = None
    may_be_cut_out: bool = False
    short: Short | None = None
    came_before: bool = False


def cause_of(seen: Evidence) -> tuple[Cause, str]:
    """By the rules at the head of this file.

    Examples
    --------
    >>> seen = Evidence(40.0, True, False, 40.1, 9.0, 40.2, 35.4, 730.0, 0.4, 0.9)
    >>> cause_of(seen)[1]
    'from 35.4 A to 40.2 A in 12:10 while the volts stood'
    """
    limit = seen.limit_amps
    if seen.short is not None:
        return Cause.SHORT, _short_words(seen.short)
    if seen.may_be_cut_out:
        return Cause.UNSEEN, _doubtful_words(seen)
    if not seen.is_cut_out:
        return _without_cut_out(seen)
    was_set_up = (
        seen.set_from_volts is not None
        and seen.set_ago_s <= SET_WITHIN_S
        and seen.volts > seen.set_from_volts
    )
    if was_set_up and seen.peak_amps >= NEAR * limit:
        return (
            Cause.OPERATOR,
            f"the volts were set up from {seen.set_from_volts:.1f} to {seen.volts:.1f} V "
            f"{seen.set_ago_s:.0f} s before",
        )
    if _is_just_on(seen) and not seen.came_before and seen.peak_amps >= NEAR * limit:
        return (
            Cause.OPERATOR,
            f"it was switched on at {seen.volts:.1f} V or more, and the amps passed {limit:g} A "
            f"within {seen.start_ago_s:.0f} s",
        )
    if seen.over_s >= THERMAL_S:
        return (
            Cause.HEAT,
            f"the amps had stood over {limit:g} A for {clock(seen.over_s)}; a cut-out that goes by "
            "heat, or waits the longer the less the amps are over",
        )
    if seen.peak_amps >= NEAR * limit:
        return Cause.SLOW_RISE, _rise_words(seen)
    if seen.mean_share >= HOT * HOT:
        return (
            Cause.HEAT,
            f"it stood near {limit:g} A for minutes and cut out at {seen.amps:.1f} A; too warm",
        )
    return (
        Cause.UNSEEN,
        f"it cut out from {seen.amps:.1f} A, far under {limit:g} A: a short too brief for the "
        "polls, or the supply's own heat or fault",
    )


def _short_words(short: Short) -> str:
    volts = short.ohms * short.amps
    bath = "" if short.bath_amps is None else f", the bath draws {short.bath_amps:.1f} A"
    return f"{short.amps:.1f} A at {volts:.1f} V{bath}; {short.ohms:.3f} ohm, near the leads' own"


def _doubtful_words(seen: Evidence) -> str:
    share = f"at {seen.peak_amps:.1f} A, {seen.peak_amps / seen.limit_amps:.0%} of the limit"
    if seen.unseen_s > UNWATCHED_S:
        return f"{share}, unwatched for {clock(seen.unseen_s)}: it cut out, or was switched off"
    return f"{share}: it cut out, or was switched off; the supply does not say which"


def _without_cut_out(seen: Evidence) -> tuple[Cause, str]:
    if seen.turned_down_from is not None:
        return (
            Cause.OPERATOR,
            f"the volts were turned down from {seen.turned_down_from:.1f} V until nothing flowed",
        )
    was_set_down = (
        seen.set_from_volts is not None
        and seen.set_ago_s <= SET_WITHIN_S
        and seen.volts < seen.set_from_volts
    )
    if was_set_down:
        return (
            Cause.OPERATOR,
            f"the volts were set down from {seen.set_from_volts:.1f} V, then the output went off",
        )
    if seen.says_off:
        return (
            Cause.OPERATOR,
            f"the supply says that it was switched off at {seen.amps:.1f} A, with no sign of a "
            "cut-out",
        )
    if seen.unseen_s <= SEEN_S:
        return Cause.OPERATOR, f"switched off at {seen.amps:.1f} A, with no sign of a cut-out"
    return (
        Cause.UNSEEN,
        f"the output went off at {seen.amps:.1f} A between two polls {seen.unseen_s:.1f} s apart: "
        "switched off, or a short too brief for them",
    )


def _is_just_on(seen: Evidence) -> bool:
    """Whether it cut out on the way up, before the amps of the stretch could be read."""
    return seen.start_amps is None and seen.set_from_volts is None


def _rise_words(seen: Evidence) -> str:
    start = seen.start_amps
    if _is_just_on(seen):
        return (
            f"the same bath drew {seen.peak_amps:.1f} A again within {seen.start_ago_s:.0f} s of "
            "switching on"
        )
    if start is not None and seen.peak_amps - start >= 0.03 * seen.limit_amps:
        return (
            f"from {start:.1f} A to {seen.peak_amps:.1f} A in {clock(seen.start_ago_s)} while the "
            "volts stood"
        )
    if seen.came_before and start is not None and start >= SAME_BATH * seen.limit_amps:
        return f"the same bath drew {start:.1f} A again as soon as it was on"
    return f"the amps stood near {seen.limit_amps:g} A all the time and a peak passed it"


def clock(seconds: float) -> str:
    """A duration as minutes and seconds.

    >>> clock(210.4)
    '3:30'
    """
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d}"
