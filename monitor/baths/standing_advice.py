"""A bath's state and jobs in; what to do about it by itself, before anybody asks, out."""

from collections.abc import Mapping, Sequence

from monitor.base.errors import WrongUse
from monitor.baths.connection import Contacts
from monitor.baths.dilution import FLOOR_GRAMS_PER_LITRE, Advice, Draw, Exponent, Remedy, advice
from monitor.baths.job_run import JobRun
from monitor.baths.trend import Prospect
from monitor.model.entry import BathState

SOON = 10.0
"""With so many jobs left, or fewer, something is to be done (our choice)."""


def usual_draw(
    state: BathState, runs: Sequence[JobRun], contacts: Mapping[str, Contacts]
) -> tuple[Draw, float] | None:
    """What the usual job draws at 25 C now, and what the like of it drew in the fresh bath.

    None with a single job of its set-up since the make-up.
    """
    since = [one for one in runs if one.began_utc_ns >= (state.made_up_utc_ns or 0)]
    known = [one for one in since if one.siemens is not None and one.volts is not None]
    if not known:
        return None
    newest = known[-1]
    first = next(one for one in known if one.set_up == newest.set_up)
    if first is newest or newest.siemens is None or first.siemens is None or newest.volts is None:
        return None
    over = newest.volts - newest.polarisation_volts
    leads = contacts.get(newest.set_up.supply)
    lead_ohms = 0.0 if leads is None else leads.ohms
    draw = Draw(newest.siemens * over, newest.volts, newest.polarisation_volts, lead_ohms=lead_ohms)
    return draw, first.siemens * over


def standing_advice(
    state: BathState,
    runs: Sequence[JobRun],
    prospect: Prospect,
    exponent: Exponent,
    contacts: Mapping[str, Contacts],
) -> Advice | None:
    """To thin or replace a bath that comes near the limit; None where nothing is known of it.

    The aim is what the usual job drew in the fresh bath; both are at 25 C, so no cooling is told.
    """
    found = usual_draw(state, runs, contacts)
    if found is None or state.litres is None:
        return None
    if prospect.jobs_left is None or prospect.jobs_left > SOON:
        return Advice(Remedy.NOTHING, "It is far from the supply's limit.")
    draw, aim = found
    try:
        return advice(
            draw,
            aim,
            state.litres,
            exponent,
            holds_litres=runs[-1].holds_litres,
            grams_per_litre=state.grams_per_litre,
            floor_grams_per_litre=FLOOR_GRAMS_PER_LITRE[state.solution or "caustic"],
        )
    except WrongUse:
        return None
