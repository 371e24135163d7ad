"""A bath's earlier runs in; what they have taught of it, for the next one, out.

The runs are followed again from their own rows, oldest first, each from what those before it had
taught: nothing of it is stored twice, and a store of any version will do.
"""

import math
from collections.abc import Iterator

from monitor.analysis.bath_heat import CAUSTIC_PER_KELVIN
from monitor.analysis.chain import LEAST_VOLTS_ABOVE, Chain
from monitor.analysis.known_bath import KnownBath
from monitor.model.bath_prior import BathPrior, next_prior
from monitor.model.kept_settings import kept_fittings, kept_number
from monitor.model.run import RunFacts
from monitor.model.sample import Gap, Quality, Sample
from monitor.store.job_rows import cards_and_outcomes
from monitor.store.reader import Store
from monitor.store.stored_run import StoredRun

NEWEST, LOOKED_AT = 5, 40
EVERY_S = 1.0
"""Rows closer than this are passed over: the recorder polls meanwhile."""
FIRST_S = 3600.0
"""Of a run; what comes later teaches little more."""
LEAST_VALUES = 60
"""A run with fewer has taught nothing."""


def learned_bath(store: Store, facts: RunFacts, bath: str, before_run: int) -> BathPrior | None:
    """What the newest runs of a bath with this supply have taught; None without any.

    Raises
    ------
    StoreError
        The store cannot be read.
    """
    if not bath:
        return None
    cards, _ = cards_and_outcomes(store.path)
    found: list[StoredRun] = []
    rows = [row for row in store.runs(facts.supply) if row.run < before_run]
    for row in sorted(rows, key=lambda one: one.run, reverse=True)[:LOOKED_AT]:
        card = cards.get(row.run)
        if bath == ((card.bath if card else "") or row.facts.bath):
            found.append(store.run(row.run))
        if len(found) == NEWEST:
            break
    prior: BathPrior | None = None
    for stored in reversed(found):
        known = follow(thinned(stored), stored.row.facts, facts.bath_litres, prior)
        if known.values >= LEAST_VALUES:
            prior = next_prior(known.learned, known.default)
    return prior


def thinned(stored: StoredRun) -> Iterator[Sample | Gap]:
    """A run's first hour, a row a second."""
    next_s = -math.inf
    for row in stored.rows():
        if row.t_s > FIRST_S:
            return
        if row.t_s >= next_s:
            next_s = row.t_s + EVERY_S - 0.05
            yield row


def follow(
    rows: Iterator[Sample | Gap], facts: RunFacts, litres: float | None, prior: BathPrior | None
) -> KnownBath:
    """A run's bath as it is known at the run's end; `litres` are those of the run to come."""
    fittings = kept_fittings(facts.settings)
    kept = kept_number(facts.settings, "in_force", "per_kelvin")
    per_kelvin = CAUSTIC_PER_KELVIN if kept is None else kept
    step_s = max(facts.poll_s, EVERY_S)
    chain = Chain(facts.limit_amps, poll_s=step_s, per_kelvin=per_kelvin, fittings=fittings)
    known = KnownBath(facts.limit_amps, litres, per_kelvin, fittings.cells)
    if prior is not None:
        known.know(prior)
    for row in rows:
        chain.update(row)
        if isinstance(row, Gap) or row.quality >= Quality.SUSPECT:
            continue
        if row.volts is None or row.amps is None:
            continue
        known.flow(row.t_s, row.volts * max(row.amps, 0.0))
        value, noise = chain.value, chain.noise
        if value is not None and value.volts - known.zero_volts >= LEAST_VOLTS_ABOVE:
            log_amps = value.x + math.log(value.volts - chain.polarisation.volts)
            known.update(
                value.t_s, log_amps, value.volts, noise.white, noise.wander, noise.memory_s
            )
    return known
