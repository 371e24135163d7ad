"""What a job like this one usually draws shortly after switch-on, from earlier runs."""

from collections.abc import Iterator
from statistics import median
from typing import NamedTuple

from monitor.model.card import JobCard
from monitor.model.estimate import Estimate
from monitor.model.run import RunFacts
from monitor.model.sample import Sample
from monitor.model.usual_amps import UsualAmps
from monitor.store.job_rows import cards_and_outcomes
from monitor.store.reader import Store
from monitor.store.stored_run import StoredRun

NEWEST = 5
LOOKED_AT = 60
"""Like runs that count, and runs of any kind that are looked at: a bath changes."""
SPREAD_AT_25, SPREAD = 0.05, 0.20
"""Of eleven starts of like jobs on as many days, 2.2 % was the worst with a temperature probe;
without it the standard deviation was 16 %, from 7 to 25 C (measured on our own bench)."""
SAME_AREA = 0.1
FROM_S, FOR_S = 10.0, 20.0
"""The start is read so long after the conductance is known, and for so long."""


class _Start(NamedTuple):
    siemens: float
    polarisation_volts: float
    volts: float
    is_at_25: bool
    """Whether a probe's temperature brought the conductance to 25 C."""


def usual_draw(store: Store, facts: RunFacts, card: JobCard, before_run: int) -> UsualAmps | None:
    """What earlier jobs like this one drew; None without any.

    Like jobs are those of the same bath, supply, step and way, with the same part, or with an area
    that differs by a tenth at most.

    Raises
    ------
    StoreError
        The store cannot be read.
    """
    bath = card.bath or facts.bath
    if not bath or not (card.part or card.area_dm2):
        return None
    starts = list(_starts(store, facts.supply, bath, card, before_run))
    at_25 = [start for start in starts if start.is_at_25]
    chosen = at_25 or starts
    if not chosen:
        return None
    volts = chosen[0].volts
    above = volts - median(start.polarisation_volts for start in chosen)
    amps = median(start.siemens for start in chosen) * max(above, 0.0)
    spread = SPREAD_AT_25 if at_25 else SPREAD
    celsius = 25.0 if at_25 else None
    most_volts = max(start.volts for start in chosen)
    low, high = amps * (1.0 - spread), amps * (1.0 + spread)
    return UsualAmps(low, amps, high, volts, celsius, most_volts)


def _starts(
    store: Store, supply: str, bath: str, card: JobCard, before_run: int
) -> Iterator[_Start]:
    """Of the newest like runs, newest first."""
    cards, _ = cards_and_outcomes(store.path)
    earlier = [run for run in sorted(cards, reverse=True) if run < before_run][:LOOKED_AT]
    count = 0
    for run in earlier:
        like = cards[run]
        if not _is_like(card, like):
            continue
        stored = store.run(run)
        facts = stored.row.facts
        if facts.supply != supply or (like.bath or facts.bath) != bath:
            continue
        start = _start_of(stored)
        if start is not None:
            yield start
            count += 1
        if count == NEWEST:
            return


def _is_like(card: JobCard, earlier: JobCard) -> bool:
    if (card.step, card.way) != (earlier.step, earlier.way):
        return False
    if card.area_dm2 and earlier.area_dm2:
        return abs(earlier.area_dm2 / card.area_dm2 - 1.0) <= SAME_AREA
    return bool(card.part) and card.part == earlier.part


def _start_of(stored: StoredRun) -> _Start | None:
    """The conductance shortly after the run's first current; None for a run without."""
    began_s: float | None = None
    values: list[Estimate] = []
    for estimate in stored.estimates():
        if estimate.siemens is None or not estimate.in_contact:
            continue
        began_s = estimate.t_s if began_s is None else began_s
        if estimate.t_s - began_s > FROM_S + FOR_S:
            break
        if estimate.t_s - began_s >= FROM_S:
            values.append(estimate)
    if not values:
        return None
    middle = sorted(values, key=lambda value: value.siemens or 0.0)[len(values) // 2]
    row = next(iter(stored.rows(middle.seq - 1)), None)
    intercept, siemens = middle.polarisation_volts, middle.siemens
    if not isinstance(row, Sample) or row.volts is None or intercept is None or siemens is None:
        return None
    if row.celsius is None or middle.siemens_at_25 is None:
        return _Start(siemens, intercept, row.volts, is_at_25=False)
    return _Start(middle.siemens_at_25, intercept, row.volts, is_at_25=True)
