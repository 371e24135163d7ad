"""A run and its store in; the charge that its chromium takes, by card or settings, out."""

from dataclasses import replace

from monitor.baths.bath_efficiency import bath_efficiency
from monitor.baths.charge_need import charge_need
from monitor.baths.step_charge import charge_before_step
from monitor.model.card import JobCard
from monitor.model.charge_need import ChargeNeed
from monitor.model.kept_settings import kept_fittings
from monitor.store.reader import Store
from monitor.store.stored_run import StoredRun


def need_of_run(store: Store, run: StoredRun, card: JobCard) -> ChargeNeed | None:
    """What the work takes, with the efficiency of its bath's earlier runs; None where not known.

    Area and thickness are the card's, else those of the settings that the run began with.

    Raises
    ------
    StoreError
        The store cannot be read.
    """
    facts = run.row.facts
    job = kept_fittings(facts.settings).job
    area = card.area_dm2 or job.area_dm2
    thick = card.micrometres or job.micrometres
    if area is None or thick is None:
        return None
    bath = card.bath or facts.bath
    learned = bath_efficiency(store, bath, run.row.run) if bath else None
    return replace(charge_need(area, thick, learned), before=charge_before_step(run))
