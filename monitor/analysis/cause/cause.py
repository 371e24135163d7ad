"""The cause of a stop, from what was seen before it. The first rule that holds wins.

1. A short seen in the last seconds: a sudden short. Else amps that jumped in them: the jump.
2. A supply that came back within half a minute and cut out again restarts by itself.
3. An output that went off near the limit, and nothing that says why: not seen; cut out or
   switched off.
4. A supply that has not cut out was switched off, or its volts were set down: the operator; but
   where it does not say so itself and the polls are far apart, a short may have hidden between.
5. Volts set up a moment before the limit was passed, or an output switched on at too many volts
   for a bath that has not cut it out before: the operator.
6. Amps over the limit for long before the cut-out: heat, by the supply's thermal cut-out, or by one
   that waits as long as heat would.
7. Amps at the limit: a slow rise, from where they stood when the volts were set.
8. A cut-out well under the limit, with little heat before: not seen; the polls are too far apart,
   or it is the supply's own.
"""

from dataclasses import dataclass

from monitor.analysis.cut_out import NEAR_LIMIT
from monitor.analysis.jump import Jump
from monitor.analysis.short import Short
from monitor.model.explanation import Cause
from monitor.text import stops as say

THERMAL_S = 10.0
"""An over-current cut-out comes within a second or two; one that waits so long goes by heat, or by
a curve like those of IEC 60255-151, which all wait longer at 1.1 times their setting."""
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
    short, jump
        A short, and a jump of the amps, seen in the last seconds.
    quick_cut_outs
        How often the supply has come back by itself and cut out again, this time included.
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
    jump: Jump | None = None
    quick_cut_outs: int = 0


def cause_of(seen: Evidence) -> tuple[Cause, str]:
    """By the rules at the head of this file.

    Examples
    --------
    >>> seen = Evidence(40.0, True, False, 40.1, 9.0, 40.2, 35.4, 730.0, 0.4, 0.9)
    >>> cause_of(seen)[1]
    'from 35.4 A to 40.2 A in 12:10 at the same volts'
    """
    limit = seen.limit_amps
    short, set_from = seen.short, seen.set_from_volts
    if short is not None:
        volts = short.ohms * short.amps
        return Cause.SHORT, say.short(short.amps, volts, short.ohms, short.bath_amps)
    if seen.jump is not None and (seen.is_cut_out or seen.may_be_cut_out):
        return Cause.JUMP, say.jumped(seen.jump.from_amps, seen.jump.to_amps)
    if seen.quick_cut_outs > 1 and seen.is_cut_out:
        return Cause.RESTARTS, say.restarts(seen.quick_cut_outs)
    if seen.may_be_cut_out:
        unwatched_s = seen.unseen_s if seen.unseen_s > UNWATCHED_S else None
        return Cause.UNSEEN, say.doubtful(seen.peak_amps, limit, unwatched_s)
    if not seen.is_cut_out:
        return _without_cut_out(seen)
    is_at_limit = seen.peak_amps >= NEAR_LIMIT * limit
    was_just_set = set_from is not None and seen.set_ago_s <= SET_WITHIN_S
    if set_from is not None and was_just_set and seen.volts > set_from and is_at_limit:
        return Cause.OPERATOR, say.volts_set_up(set_from, seen.volts, seen.set_ago_s)
    if _is_just_on(seen) and not seen.came_before and is_at_limit:
        return Cause.OPERATOR, say.switched_on_too_high(seen.volts, limit, seen.start_ago_s)
    if seen.over_s >= THERMAL_S:
        return Cause.HEAT, say.over_limit_for(limit, seen.over_s)
    if is_at_limit:
        return Cause.SLOW_RISE, _rise_words(seen)
    if seen.mean_share >= HOT * HOT:
        return Cause.HEAT, say.near_limit_for_minutes(limit, seen.amps)
    return Cause.UNSEEN, say.far_under_limit(seen.amps, limit)


def _without_cut_out(seen: Evidence) -> tuple[Cause, str]:
    if seen.turned_down_from is not None:
        return Cause.OPERATOR, say.turned_down(seen.turned_down_from)
    set_from = seen.set_from_volts
    was_just_set = seen.set_ago_s <= SET_WITHIN_S
    if set_from is not None and was_just_set and seen.volts < set_from:
        return Cause.OPERATOR, say.turned_down_and_off(set_from)
    if seen.says_off:
        return Cause.OPERATOR, say.supply_says_off(seen.amps)
    if seen.unseen_s <= SEEN_S:
        return Cause.OPERATOR, say.switched_off(seen.amps)
    return Cause.UNSEEN, say.off_between_polls(seen.amps, seen.unseen_s)


def _is_just_on(seen: Evidence) -> bool:
    """Whether it cut out on the way up, before the amps of the stretch could be read."""
    return seen.start_amps is None and seen.set_from_volts is None


def _rise_words(seen: Evidence) -> str:
    start = seen.start_amps
    if _is_just_on(seen):
        return say.at_limit_again_at_once(seen.peak_amps, seen.start_ago_s)
    if start is not None and seen.peak_amps - start >= 0.03 * seen.limit_amps:
        return say.rose(start, seen.peak_amps, seen.start_ago_s)
    if seen.came_before and start is not None and start >= SAME_BATH * seen.limit_amps:
        return say.at_limit_again(start)
    return say.stood_near_limit(seen.limit_amps)
