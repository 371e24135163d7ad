"""The charge that a run needs and that it took, with the efficiency of its bath's earlier runs."""

from dataclasses import replace

from monitor.base.errors import StoreDamaged
from monitor.baths.charge_need import Efficiency, charge_need, learned_efficiency
from monitor.model.card import JobCard
from monitor.model.charge_need import ChargeNeed
from monitor.model.faraday import amp_hours_to_strip
from monitor.model.kept_settings import kept_fittings
from monitor.model.outcome import Gone
from monitor.model.run import RunFacts
from monitor.store.job_rows import cards_and_outcomes
from monitor.store.reader import Store
from monitor.store.stored_run import StoredRun

NEWEST = 60
"""Finished runs that are looked at: older ones say little about a bath of today."""
STEP_NAME = "fittings.step.name"
LOOK_BACK_S = 30.0
"""Estimates are stored about once a second while current flows."""


def charge_before_step(run: StoredRun) -> float:
    """Ampere-hours of earlier steps, such as a cleaning; 0 where there was one step only.

    Raises
    ------
    StoreError
        The store cannot be read.
    """
    changes = [change for change in run.setting_changes() if change.name == STEP_NAME]
    if not changes:
        return 0.0
    step_began_s = changes[-1].t_ns / 1e9
    known = list(run.estimates(max(step_began_s - LOOK_BACK_S, 0.0), step_began_s))
    return known[-1].charge.amp_hours if known else 0.0


def bath_efficiency(store: Store, bath: str, before_run: int) -> Efficiency | None:
    """What a bath's finished runs before this one had; None where there are none. Quick enough for
    a live screen.

    A run counts where its card names area and thickness and the chromium is gone.

    Raises
    ------
    StoreError
        The store cannot be read.
    """
    cards, outcomes = cards_and_outcomes(store.path)
    charges: list[tuple[float, float]] = []
    for run in sorted(outcomes, reverse=True):
        card = cards.get(run)
        if run >= before_run or outcomes[run].gone is not Gone.YES or card is None:
            continue
        if card.area_dm2 is None or card.micrometres is None:
            continue
        try:
            stored = store.run(run)
        except StoreDamaged:
            continue
        if bath == (card.bath or stored.row.facts.bath):
            passed = stored.latest_estimate()
            if passed is not None:
                least = amp_hours_to_strip(card.area_dm2, card.micrometres)
                charges.append((least, passed.charge.amp_hours - charge_before_step(stored)))
        if len(charges) == NEWEST:
            break
    return learned_efficiency(charges)


def need_of_run(store: Store, run: StoredRun, card: JobCard) -> ChargeNeed | None:
    """What the part takes; None without area and thickness, of the card or the run's settings.

    Raises
    ------
    StoreError
        The store cannot be read.
    """
    need = need_of_card(store, run.row.facts, card, run.row.run)
    return None if need is None else replace(need, before=charge_before_step(run))


def need_of_card(store: Store, facts: RunFacts, card: JobCard, run: int) -> ChargeNeed | None:
    """The same, from the beginning of the card."""
    job = kept_fittings(facts.settings).job
    area = card.area_dm2 or job.area_dm2
    thick = card.micrometres or job.micrometres
    if area is None or thick is None:
        return None
    bath = card.bath or facts.bath
    learned = bath_efficiency(store, bath, run) if bath else None
    return charge_need(area, thick, learned)
