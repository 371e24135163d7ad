"""A store and a bath in, the efficiency of its finished runs out; quick enough to be live."""

from monitor.baths.charge_need import Efficiency, learned_efficiency
from monitor.baths.step_charge import charge_before_step
from monitor.model.faraday import amp_hours_to_strip
from monitor.store.job_rows import cards_and_outcomes
from monitor.store.reader import Store

NEWEST = 60
"""Finished runs that are looked at: older ones say little of a bath of today."""


def bath_efficiency(store: Store, bath: str, before_run: int) -> Efficiency | None:
    """What a bath's runs before one had; None where none is known of.

    A run counts where its card names area and thickness and the water film held after it.

    Raises
    ------
    StoreError
        The store cannot be read.
    """
    cards, outcomes = cards_and_outcomes(store.path)
    found: list[tuple[float, float]] = []
    for run in sorted(outcomes, reverse=True):
        card = cards.get(run)
        if run >= before_run or not outcomes[run].wetted or card is None:
            continue
        if card.area_dm2 is None or card.micrometres is None:
            continue
        stored = store.run(run)
        if bath == (card.bath or stored.row.facts.bath):
            passed = stored.latest_estimate()
            if passed is not None:
                least = amp_hours_to_strip(card.area_dm2, card.micrometres)
                found.append((least, passed.charge.amp_hours - charge_before_step(stored)))
        if len(found) == NEWEST:
            break
    return learned_efficiency(found)
