"""The sentences of an advice in numbers: what to set, by when, and what follows."""

from monitor.base.moments import local_minute

NO_CLOCK_NS = 10**18
"""Times before 2001 come from a table that has no clock."""
NOW_S = 20.0


def advice_sentence(
    volts: float,
    due_in_s: float,
    finish_in_s: float | None,
    holds_for_s: float | None,
    pause_s: float,
    utc_ns: int,
) -> str:
    """All of an advice in words.

    Parameters
    ----------
    volts
        To set.
    due_in_s
        Until then.
    finish_in_s, holds_for_s
        Until the strip is likely finished; else for how long the volts will do, 0 for hardly.
    pause_s
        To cool before; 0 for none.
    utc_ns
        The moment now.

    Examples
    --------
    >>> advice_sentence(7.6, 240.0, None, 700.0, 0.0, 0)
    'Within 4 min: 7.6 V. No cut-out is likely then for 12 min.'
    >>> advice_sentence(6.0, 0.0, None, None, 600.0, 0)
    'Now: pause 10 min to cool, output off; then 6 V.'
    """
    by = _by(due_in_s, utc_ns)
    if pause_s > 0.0:
        return f"{by}: pause {pause_s / 60.0:.0f} min to cool, output off; then {volts:g} V."
    if finish_in_s is not None:
        clock = _clock(utc_ns, finish_in_s)
        when = f"in {_minutes(finish_in_s)}" if clock is None else f"about {clock}"
        after = f"No cut-out is likely then before the strip is done, {when}."
    elif holds_for_s:
        after = f"No cut-out is likely then for {_minutes(holds_for_s)}."
    else:
        after = "That gains some minutes only: look at the part, and be ready to switch off."
    return f"{by}: {volts:g} V. {after}"


def withdrawn(is_done: bool) -> str:
    """The advice before stands no more."""
    return "The volts are turned down." if is_done else "No need to turn down: no cut-out in sight."


def pause_for(pause_s: float, volts: float) -> str:
    """What the hand does now, where no volts will do."""
    return f"Output OFF for {pause_s / 60.0:.0f} min to cool; then {volts:g} V."


def _by(due_in_s: float, utc_ns: int) -> str:
    if due_in_s < NOW_S:
        return "Now"
    clock = _clock(utc_ns, due_in_s)
    left = _minutes(due_in_s)
    return f"Within {left}" if clock is None else f"By {clock} ({left})"


def _clock(utc_ns: int, in_s: float) -> str | None:
    """The time of day then; None where no clock is known."""
    if utc_ns < NO_CLOCK_NS:
        return None
    return local_minute(utc_ns + round(in_s * 1e9))[-5:]


def _minutes(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 90.0 else f"{seconds / 60.0:.0f} min"
