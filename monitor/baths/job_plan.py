"""The plan of a job from its card, the bath's earlier runs and the step's windows."""

import math
from typing import NamedTuple

from monitor.analysis.bath_heat import CAUSTIC_PER_KELVIN
from monitor.analysis.known_bath import KnownBath
from monitor.analysis.look_ahead import SWAB_DUTY
from monitor.analysis.planned_strip import PAUSES_S, Level, PlannedStrip
from monitor.baths.charge_need import charge_need
from monitor.baths.learned_bath import follow, learned_bath, thinned
from monitor.baths.run_charge import need_of_card
from monitor.baths.usual_draw import usual_draw
from monitor.model.bath_prior import BathPrior
from monitor.model.card import JobCard, Way
from monitor.model.charge_need import ChargeNeed
from monitor.model.fittings import Fittings
from monitor.model.kept_settings import kept_fittings, kept_number
from monitor.model.run import LimitKind, RunFacts, RunRow
from monitor.model.strip_plan import Basis, Outlook, Range, StripPlan, Unknown
from monitor.model.usual_amps import UsualAmps
from monitor.store.job_rows import cards_and_outcomes
from monitor.store.reader import Store

NEXT_RUN = 2**31
"""After every run of the store."""
LEAST_ABOVE = 0.7
"""Volts a cell above E0 under which nothing is reckoned."""
WARM_FOR_S = 6 * 3600.0
"""What an earlier run has left of warmth is not looked for longer."""


class Asked(NamedTuple):
    """What a plan is made for.

    Parameters
    ----------
    facts, fittings, per_kelvin
        Of supply and bath, as a run would have them.
    card
        The job.
    volts
        To be set; None for those of like jobs.
    celsius
        Of the bath now; None where nobody measured it.
    now_ns
        Wall time.
    before_run
        Only the runs before this one are looked at.
    """

    facts: RunFacts
    fittings: Fittings
    per_kelvin: float
    card: JobCard
    volts: float | None
    celsius: float | None
    now_ns: int
    before_run: int = NEXT_RUN


def plan_of_run(store: Store, row: RunRow, card: JobCard, celsius: float | None) -> StripPlan:
    """The plan of a run that has just begun, by what it keeps of supply and bench.

    Raises
    ------
    StoreError
        The store cannot be read.
    """
    settings = row.facts.settings
    per_kelvin = kept_number(settings, "in_force", "per_kelvin")
    return plan_of_job(
        store,
        Asked(
            facts=row.facts,
            fittings=kept_fittings(settings),
            per_kelvin=CAUSTIC_PER_KELVIN if per_kelvin is None else per_kelvin,
            card=card,
            volts=None,
            celsius=celsius,
            now_ns=row.began_utc_ns,
            before_run=row.run,
        ),
    )


def plan_of_job(store: Store | None, asked: Asked) -> StripPlan:
    """The plan; without a store from the card and the windows alone.

    Raises
    ------
    StoreError
        The store cannot be read.
    """
    facts, card = asked.facts, asked.card
    fittings = asked.fittings.for_card(card)
    bath = card.bath or facts.bath
    usual = prior = None
    need = _need_by_law(fittings)
    warmth: float | None = 0.0
    if store is not None:
        usual = usual_draw(store, facts, card, asked.before_run)
        need = need_of_card(store, facts, card, asked.before_run)
        prior = learned_bath(store, facts, bath, asked.before_run)
        warmth = _warmth_left(store, asked, bath, prior)
    most = _most_amps(fittings)
    told, basis = _level(asked, fittings, usual)
    level = told
    if level is not None and asked.volts is not None and basis is Basis.DENSITY:
        level = level._replace(volts=asked.volts)
    charge = _charge(need)
    strip = None
    if level is not None:
        known = KnownBath(facts.limit_amps, facts.bath_litres, asked.per_kelvin, fittings.cells)
        if prior is not None:
            known.know(prior)
        is_now = basis is Basis.LIKE_JOBS_AT_25 and asked.celsius is not None
        duty = SWAB_DUTY if card.way is Way.SWAB else 1.0
        if level.volts - known.zero_volts >= LEAST_ABOVE * fittings.cells:
            strip = PlannedStrip(
                known, level, warmth or 0.0, is_now, facts.limit_amps, most, charge, duty
            )
    unknown = _unknown(asked, fittings, usual, need, prior, warmth)
    least = None if need is None else need.least
    holds = facts.limit_kind is LimitKind.HOLDS
    empty = StripPlan(
        facts.limit_amps, holds, charge, least, basis, None, None, 0.0, True, most, asked.celsius,
        unknown,
    )  # fmt: skip
    if strip is None or level is None:
        return empty
    volts = asked.volts or round(level.volts, 1)
    if volts - strip.zero_volts < LEAST_ABOVE * fittings.cells:
        return empty._replace(is_too_low=True)
    outlook = strip.at(volts)
    if holds or strip.will_do(volts):
        return empty._replace(asked=outlook)
    chosen, pause_s = _choose(strip, volts, fittings)
    return empty._replace(asked=outlook, chosen=chosen, pause_s=pause_s, will_do=chosen is not None)


def _choose(strip: PlannedStrip, volts: float, fittings: Fittings) -> tuple[Outlook | None, float]:
    """What to expect at the volts to choose, and after how long a rest."""
    lowest = strip.zero_volts + LEAST_ABOVE * fittings.cells
    if fittings.window is not None:
        lowest = max(lowest, fittings.window.lowest_volts)
    pause_s, best = pause_and_volts(strip, lowest, volts)
    if best is None:
        return None, 0.0
    return (strip.cooled(pause_s) if pause_s else strip).at(best), pause_s


def pause_and_volts(strip: PlannedStrip, lowest: float, most: float) -> tuple[float, float | None]:
    """The shortest rest, seconds, after which some volts will do, and these volts; None of none."""
    for pause_s in (0.0, *PAUSES_S):
        best = (strip.cooled(pause_s) if pause_s else strip).highest(lowest, most)
        if best is not None:
            return pause_s, best
    return 0.0, None


def _level(
    asked: Asked, fittings: Fittings, usual: UsualAmps | None
) -> tuple[Level | None, Basis | None]:
    """The amps shortly after switching on."""
    if usual is not None and usual.volts is not None and usual.low > 0.0:
        if usual.celsius is None:
            return Level(Range(usual.low, usual.middle, usual.high), usual.volts), Basis.LIKE_JOBS
        share, spread = 1.0, 1.0
        if asked.celsius is None:
            # The bath may be ten kelvin warmer or colder.
            spread = 1.0 + 10.0 * asked.per_kelvin
        else:
            share = max(1.0 + asked.per_kelvin * (asked.celsius - usual.celsius), 0.05)
        amps = Range(usual.low * share / spread, usual.middle * share, usual.high * share * spread)
        return Level(amps, usual.volts), Basis.LIKE_JOBS_AT_25
    area, density, window = fittings.job.area_dm2, fittings.step.amps_per_dm2, fittings.window
    if not area or density is None or density[1] <= 0.0:
        return None, None
    low, high = max(density[0], 0.2 * density[1]) * area, density[1] * area
    volts = asked.volts
    if volts is None and window is not None:
        volts = 0.5 * (window.lowest_volts + window.highest_volts)
    if volts is None:
        return None, None
    return Level(Range(low, math.sqrt(low * high), high * 1.0001), volts), Basis.DENSITY


def _most_amps(fittings: Fittings) -> float | None:
    job = fittings.job
    if job.area_dm2 is None or job.most_amps_per_dm2 is None:
        return None
    return job.area_dm2 * job.most_amps_per_dm2


def _need_by_law(fittings: Fittings) -> ChargeNeed | None:
    area, thick = fittings.job.area_dm2, fittings.job.micrometres
    return charge_need(area, thick) if area and thick else None


def _charge(need: ChargeNeed | None) -> Range | None:
    if need is None or need.likely is None or need.low is None or need.high is None:
        return None
    return Range(need.low, need.likely, need.high)


def _warmth_left(store: Store, asked: Asked, bath: str, prior: BathPrior | None) -> float | None:
    """Kelvin that the bath's last run has left in it; None where that cannot be reckoned."""
    if not bath:
        return 0.0
    facts = asked.facts
    cards, _ = cards_and_outcomes(store.path)
    for row in sorted(store.runs(), key=lambda one: one.run, reverse=True):
        card = cards.get(row.run)
        if row.run >= asked.before_run or bath != ((card.bath if card else "") or row.facts.bath):
            continue
        if row.ended_utc_ns is None:
            return None
        rest_s = (asked.now_ns - row.ended_utc_ns) / 1e9
        if not 0.0 <= rest_s <= WARM_FOR_S:
            return 0.0
        known = follow(thinned(store.run(row.run)), row.facts, facts.bath_litres, prior)
        bath_then = max(known.filters, key=lambda one: one.weight).bath
        return max(bath_then.paused(rest_s).theta, 0.0)
    return 0.0


def _unknown(
    asked: Asked,
    fittings: Fittings,
    usual: UsualAmps | None,
    need: ChargeNeed | None,
    prior: BathPrior | None,
    warmth: float | None,
) -> tuple[Unknown, ...]:
    """In the order in which they help most."""
    job = fittings.job
    is_without = {
        Unknown.AREA: job.area_dm2 is None,
        Unknown.CHROMIUM: job.micrometres is None,
        Unknown.AMPS: usual is None,
        Unknown.EFFICIENCY: need is not None and need.likely is None,
        Unknown.EARLIER_RUNS: prior is None,
        Unknown.CELSIUS: asked.celsius is None and (usual is None or usual.celsius is not None),
        Unknown.WARMTH: warmth is None,
        Unknown.LITRES: asked.facts.bath_litres is None,
    }
    return tuple(name for name, is_unknown in is_without.items() if is_unknown)
