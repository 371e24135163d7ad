"""A run and its store in; the charge that its chromium takes, by card or settings, out."""

import json

from monitor.bench.bath_efficiency import bath_efficiency
from monitor.bench.charge_need import ChargeNeed, charge_need
from monitor.job.card import JobCard
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
    area = card.area_dm2 or _setting(facts.settings, "fittings.job.area_dm2")
    thick = card.micrometres or _setting(facts.settings, "fittings.job.micrometres")
    if area is None or thick is None:
        return None
    bath = card.bath or facts.bath
    learned = bath_efficiency(store, bath, run.row.run) if bath else None
    return charge_need(area, thick, learned)


def _setting(settings: str, name: str) -> float | None:
    try:
        found = json.loads(settings)
    except ValueError:
        return None
    in_force = found.get("in_force") if isinstance(found, dict) else None
    value = in_force.get(name) if isinstance(in_force, dict) else None
    return float(value) if isinstance(value, int | float) else None
