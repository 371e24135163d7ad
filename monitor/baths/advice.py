"""What to do about a bath: the one place that decides it, for screens, commands and reports.

The first rule that holds wins:

1. Too weak by the ledger. Titrated, it gets caustic, or is replaced where carbonate has built up.
   Not titrated, or drawing more than it should all the same: find out first.
2. It conducts far less than the ledger's strength explains: find out.
3. It is far from the supply's limit, or draws no more than it should: nothing.
4. Warming explains what it draws: let it cool.
5. Water takes it to where it should be: dilute; but find out first where the ledger says that so
   much water would make it too weak, since then ledger and meters disagree.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from monitor.analysis.bath_heat import at_25
from monitor.base.errors import WrongUse
from monitor.baths.charge_need import TENTH
from monitor.baths.connection import Contacts
from monitor.baths.dilution import Draw, Exponent
from monitor.baths.job_run import JobRun, Vessel
from monitor.baths.trend import Prospect
from monitor.model.advice import Advice, Reason, Remedy
from monitor.model.card import Way
from monitor.model.entry import BathState

SOON = 10.0
"""With so many jobs left, or fewer, something is to be done (our choice)."""
FLOOR_GRAMS_PER_LITRE = {"caustic": 40.0, "carbonate": 50.0}
"""Working-strength floors: three quarters of the weakest published strips, 52 g/L NaOH and 67 g/L
Na2CO3 (Products Finishing); our choice, the settings may say another."""
OVER_FLOOR = 1.3
"""So far over the floor caustic is added where the strength at make-up is not known: back to the
weakest published strip."""
MUCH_CARBONATE_GRAMS_PER_LITRE = 90.0
"""A published aged strip held 38 g/L caustic and 92 g/L carbonate (STERC, questions and answers,
January 2002)."""
CONDUCTS_LESS = 0.75
"""Under this share of what the ledger's strength explains, ledger and meters disagree; a day's own
part, the leads and the law together stay within it (our choice)."""
CONDUCTS_MORE = 1.1
"""Over this share of what it should conduct it is not weak, whatever was titrated (our choice)."""
WARM_KELVIN = 5.0


@dataclass(frozen=True, slots=True)
class Case:
    """What the meters say of a bath.

    Parameters
    ----------
    draw, amps_aimed
        What it draws, and what it should draw at the same volts.
    is_near_limit
        Whether the supply's limit is near.
    aims_at_fresh
        Whether `amps_aimed` is what the usual job drew in the fresh bath.
    is_swab
        Whether the work is done with a swab.
    """

    draw: Draw
    amps_aimed: float
    is_near_limit: bool = True
    aims_at_fresh: bool = False
    is_swab: bool = False


def advice(
    case: Case | None, state: BathState, exponent: Exponent, vessel: Vessel | None = None
) -> Advice | None:
    """What to do about a bath; None where neither ledger nor meters say enough.

    Examples
    --------
    >>> from monitor.baths.dilution import learned_exponent
    >>> law, tank = learned_exponent([]), BathState(litres=9.0)
    >>> told = advice(Case(Draw(9.0, 6.0, 1.8, 25.0), 7.5), tank, law, Vessel(holds_litres=12.0))
    >>> told.remedy.value, round(told.water_litres, 2)
    ('dilute', 2.11)
    >>> advice(Case(Draw(9.0, 6.0, 1.8, 38.0), 7.5), tank, law).remedy.value
    'let it cool'

    Raises
    ------
    WrongUse
        Amps, volts or litres that cannot be.
    """
    vessel = vessel or Vessel()
    if state.litres is None:
        state = replace(state, litres=vessel.litres)
    usual_least = FLOOR_GRAMS_PER_LITRE.get(state.solution, FLOOR_GRAMS_PER_LITRE["caustic"])
    least = vessel.least_grams_per_litre or usual_least
    common = Advice(
        Remedy.NOTHING,
        Reason.FAR_FROM_LIMIT,
        grams_per_litre=state.grams_per_litre,
        least_grams_per_litre=least,
        carbonate_grams_per_litre=state.carbonate_grams_per_litre,
        is_swab=case is not None and case.is_swab,
        aims_at_fresh=case is not None and case.aims_at_fresh,
        has_known_room=vessel.holds_litres is not None,
    )
    meters = None if case is None else _Meters.read(case, vessel.per_kelvin)
    weak = _weak(common, state, meters, least)
    if weak is not None or case is None or meters is None:
        return weak
    common = replace(
        common,
        excess=meters.excess,
        amps_cool=meters.amps_cool,
        usual_celsius=case.draw.usual_celsius,
        is_warm=meters.is_warm,
    )
    if case.aims_at_fresh and meters.excess + 1.0 < CONDUCTS_LESS * _explained(state, exponent):
        return replace(common, remedy=Remedy.FIND_OUT, reason=Reason.CONDUCTS_LESS)
    if state.litres is None:
        return None
    if state.litres <= 0.0:
        raise WrongUse("the litres must be over 0")
    if not case.is_near_limit:
        return common
    if meters.siemens <= meters.aimed_siemens:
        return replace(common, reason=Reason.DRAWS_NO_MORE)
    if meters.cool_siemens <= meters.aimed_siemens:
        return replace(common, remedy=Remedy.COOL, reason=Reason.IS_WARM)
    return _thinned(common, meters, state.litres, exponent, vessel.holds_litres)


def usual_case(
    state: BathState,
    runs: Sequence[JobRun],
    contacts: Mapping[str, Contacts],
    prospect: Prospect,
) -> Case | None:
    """What the usual job draws at 25 C now, against what the like of it drew in the fresh bath.

    None with a single job of its set-up since the make-up.
    """
    since = [run for run in runs if run.began_utc_ns >= (state.made_up_utc_ns or 0)]
    known = [run for run in since if run.siemens is not None and run.volts is not None]
    if not known:
        return None
    newest = known[-1]
    first = next(run for run in known if run.set_up == newest.set_up)
    if first is newest or newest.siemens is None or first.siemens is None or newest.volts is None:
        return None
    over = newest.volts - newest.polarisation_volts
    leads = contacts.get(newest.set_up.supply)
    lead_ohms = 0.0 if leads is None else leads.ohms
    return Case(
        Draw(newest.siemens * over, newest.volts, newest.polarisation_volts, lead_ohms=lead_ohms),
        first.siemens * over,
        is_near_limit=prospect.jobs_left is not None and prospect.jobs_left <= SOON,
        aims_at_fresh=True,
        is_swab=newest.set_up.way == Way.SWAB,
    )


@dataclass(frozen=True, slots=True)
class _Meters:
    """Conductances of the bath alone: now, at the usual temperature, and as it should be."""

    siemens: float
    cool_siemens: float
    aimed_siemens: float
    amps_cool: float
    is_warm: bool

    @classmethod
    def read(cls, case: Case, per_kelvin: float) -> "_Meters":
        draw = case.draw
        if draw.amps <= 0.0 or case.amps_aimed <= 0.0:
            raise WrongUse("the amps now and the amps wanted must both be over 0")
        siemens, aimed = draw.siemens(draw.amps), draw.siemens(case.amps_aimed)
        cool, is_warm = siemens, False
        if draw.celsius is not None and draw.celsius > draw.usual_celsius:
            usual = 1.0 + per_kelvin * (draw.usual_celsius - 25.0)
            cool = (at_25(siemens, draw.celsius, per_kelvin) or siemens) * usual
            is_warm = draw.celsius > draw.usual_celsius + WARM_KELVIN
        return cls(siemens, cool, aimed, draw.amps_at(cool), is_warm)

    @property
    def excess(self) -> float:
        """Share by which the cool solution conducts more than it should."""
        return self.cool_siemens / self.aimed_siemens - 1.0


def _weak(common: Advice, state: BathState, meters: _Meters | None, least: float) -> Advice | None:
    """The advice on a bath that is too weak by the ledger; None where it is not."""
    strength, litres = state.grams_per_litre, state.litres
    if strength is None or litres is None or strength >= least:
        return None
    if state.titrated_utc_ns is None:
        return replace(common, remedy=Remedy.FIND_OUT, reason=Reason.LEDGER_SAYS_WEAK)
    if meters is not None and meters.excess + 1.0 > CONDUCTS_MORE:
        return replace(common, remedy=Remedy.FIND_OUT, reason=Reason.WEAK_YET_DRAWS_MORE)
    if (state.carbonate_grams_per_litre or 0.0) >= MUCH_CARBONATE_GRAMS_PER_LITRE:
        return replace(common, remedy=Remedy.REPLACE, reason=Reason.MUCH_CARBONATE)
    after = max(state.fresh_grams_per_litre or 0.0, OVER_FLOOR * least)
    return replace(
        common,
        remedy=Remedy.STRENGTHEN,
        reason=Reason.TITRATED_WEAK,
        caustic_grams=(after - strength) * litres,
        grams_after=after,
    )


def _explained(state: BathState, exponent: Exponent) -> float:
    """Conductance now over that of the fresh bath, as the ledger's strengths explain it."""
    fresh, now = state.fresh_grams_per_litre, state.grams_per_litre
    if not fresh or not now:
        return 1.0
    return float((now / fresh) ** exponent.n)


def _thinned(
    common: Advice, meters: _Meters, litres: float, exponent: Exponent, holds: float | None
) -> Advice:
    """The water that takes the cool solution to where it should be."""
    over = meters.cool_siemens / meters.aimed_siemens
    thinner = over ** (-1.0 / exponent.n)
    ends = sorted(
        litres * (over ** (1.0 / max(n, 0.2)) - 1.0)
        for n in (exponent.n - TENTH * exponent.sd, exponent.n + TENTH * exponent.sd)
    )
    water, drawn = litres * (1.0 / thinner - 1.0), 0.0
    if holds is not None and litres + water > holds:
        share = holds * (1.0 - thinner) / water
        drawn, water = max(litres - holds * thinner, 0.0), water * share
        ends = [end * share for end in ends]
    strength, least = common.grams_per_litre, common.least_grams_per_litre
    after = None if strength is None else strength * thinner
    common = replace(common, grams_after=after)
    if after is not None and least is not None and after < least:
        return replace(common, remedy=Remedy.FIND_OUT, reason=Reason.WATER_WOULD_WEAKEN)
    return replace(
        common,
        remedy=Remedy.DILUTE,
        reason=Reason.CONDUCTS_MORE,
        water_litres=water,
        low_litres=ends[0],
        high_litres=ends[1],
        drawn_litres=drawn,
    )
