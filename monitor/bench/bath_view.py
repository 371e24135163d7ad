"""A store and the name of a bath in; everything that its ledger and its runs say of it out."""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from drivers.nearest import nearest
from monitor.bench.by_products import caustic_grams_per_amp_hour, chromium_grams
from monitor.bench.charge_need import Efficiency, learned_efficiency
from monitor.bench.connection import Contacts, contacts_of
from monitor.bench.dilution import Exponent, learned_exponent, promise_error
from monitor.bench.entry import BathState, Entry, Kind, in_force, state_of
from monitor.bench.job_run import JobRun, job_run_of
from monitor.bench.trend import Prospect, prospect_of
from monitor.errors import WrongUse
from monitor.estimating.faraday import (
    CHROMIUM_G_PER_MOL,
    amp_hours_to_strip,
    grams_per_amp_hour,
)
from monitor.store.bath_rows import BathBook
from monitor.store.failures import NoSuchStore
from monitor.store.reader import open_store

BESIDE = 3
"""Jobs on either side of a dilution that are compared."""
LEAST_AMP_HOURS = 0.005
"""A run with less charge was no job."""


@dataclass(frozen=True, slots=True)
class Poured:
    """One dilution as it turned out.

    Parameters
    ----------
    strengths, conductances
        Ratios after over before; conductances at one temperature, None without jobs on both sides.
    amps_promised, amps_found
        None where nothing was aimed at, or no job came after it at the same supply.
    """

    entry: Entry
    strengths: float | None
    conductances: float | None
    amps_promised: float | None
    amps_found: float | None

    @property
    def error(self) -> float | None:
        """How far the promise was missed."""
        if self.amps_promised is None or self.amps_found is None:
            return None
        return promise_error(self.amps_promised, self.amps_found)


@dataclass(frozen=True, slots=True)
class BathView:
    """One bath.

    Parameters
    ----------
    entries
        All entries, corrected ones too.
    runs
        Its jobs, all of them; figures with `_since` count from the make-up on.
    contacts
        Leads and contacts of the supplies that feed it, by name, as they were looked at.
    amp_hours_since, chromium_grams_since, caustic_grams_since
        Charge passed, chromium known to have gone in (parts with area and thickness), and the
        caustic used up by it.
    """

    bath: str
    entries: tuple[Entry, ...]
    runs: tuple[JobRun, ...]
    state: BathState
    efficiency: Efficiency | None
    exponent: Exponent
    poured: tuple[Poured, ...]
    prospect: Prospect
    contacts: dict[str, Contacts]
    jobs_since: int
    amp_hours_since: float
    chromium_grams_since: float
    caustic_grams_since: float


def known_baths(path: Path) -> list[str]:
    """The baths that the store has entries or runs of.

    Raises
    ------
    StoreError
        See `open_store`.
    """
    names = {entry.bath for entry in BathBook(path).entries()}
    with open_store(path) as store:
        for row in store.runs():
            card = store.run(row.run).card()
            names.add((card.bath if card else "") or row.facts.bath)
    return sorted(names - {""})


def must_be_known(path: Path, bath: str) -> None:
    """Refuse a bath that the store knows nothing of.

    Raises
    ------
    WrongUse
        One line, with the nearest name.
    """
    try:
        known = known_baths(path)
    except NoSuchStore:
        known = []
    if bath in known:
        return
    close = nearest(bath, known)
    hint = f"did you mean '{close}'?" if close else f"known: {', '.join(known) or 'none yet'}"
    raise WrongUse(
        f"there is no bath '{bath}': {hint}; a new one begins with `bathvigil bath make-up`"
    )


def view_of(path: Path, bath: str, *, lead_ohms: float = 0.0) -> BathView:
    """Read one bath.

    Parameters
    ----------
    lead_ohms
        Of leads and contacts, which water does not change.

    Raises
    ------
    WrongUse
        There is no such bath.
    StoreError
        The store cannot be read.
    """
    must_be_known(path, bath)
    entries = BathBook(path).entries(bath)
    runs = bath_runs(path, bath)
    state = state_of(entries)
    made_up = state.made_up_utc_ns or 0
    prospect = prospect_of(state, runs)
    poured = _dilutions(in_force(entries), _Jobs(runs, prospect, lead_ohms))
    seen = [
        (one.strengths, one.conductances)
        for one in poured
        if one.strengths is not None and one.conductances is not None
    ]
    since = [one for one in runs if one.began_utc_ns >= made_up]
    chromium = math.fsum(
        chromium_grams(one.area_dm2, one.micrometres)
        for one in since
        if one.is_finished and one.area_dm2 is not None and one.micrometres is not None
    )
    per_gram = caustic_grams_per_amp_hour() / grams_per_amp_hour(CHROMIUM_G_PER_MOL, 6)
    return BathView(
        bath=bath,
        entries=tuple(entries),
        runs=tuple(runs),
        state=state,
        efficiency=learned_efficiency(finished(runs)),
        exponent=learned_exponent(seen, state.solution),
        poured=tuple(poured),
        prospect=prospect,
        contacts=_contacts(bath, in_force(BathBook(path).entries()), runs),
        jobs_since=len(since),
        amp_hours_since=math.fsum(one.amp_hours for one in since),
        chromium_grams_since=chromium,
        caustic_grams_since=chromium * per_gram,
    )


def bath_runs(path: Path, bath: str) -> list[JobRun]:
    """The ended jobs of one bath, in order."""
    found = []
    with open_store(path) as store:
        for row in store.runs():
            stored = store.run(row.run)
            card = stored.card()
            name = (card.bath if card else "") or row.facts.bath
            if name == bath and row.ended_utc_ns is not None:
                one = job_run_of(stored)
                if one.amp_hours >= LEAST_AMP_HOURS:
                    found.append(one)
    return sorted(found, key=lambda one: one.began_utc_ns)


def finished(runs: Sequence[JobRun]) -> list[tuple[float, float]]:
    """Least and passed ampere-hours of the runs after which the water film held."""
    return [
        (amp_hours_to_strip(one.area_dm2, one.micrometres), one.amp_hours)
        for one in runs
        if one.is_finished and one.area_dm2 is not None and one.micrometres is not None
    ]


@dataclass(frozen=True, slots=True)
class _Jobs:
    """The jobs with what is taken out before two of them are compared."""

    runs: Sequence[JobRun]
    prospect: Prospect
    lead_ohms: float

    def log_siemens(self, run: JobRun) -> float | None:
        """ln of the bath's own conductance, without leads and without the growth by jobs."""
        if run.series_ohms is None or run.series_ohms <= self.lead_ohms:
            return None
        trend = self.prospect.trend
        grown = 0.0 if trend is None else math.log1p(trend.per_job) * self.runs.index(run)
        return -math.log(run.series_ohms - self.lead_ohms) - grown


def _contacts(bath: str, entries: Sequence[Entry], runs: Sequence[JobRun]) -> dict[str, Contacts]:
    found = {}
    looks = [one for one in entries if one.kind is Kind.LEADS and one.ohms is not None]
    feeding = {run.set_up.supply for run in runs} | {e.supply for e in looks if e.bath == bath}
    for supply in sorted(feeding):
        ohms = [one.ohms for one in looks if one.supply == supply and one.ohms is not None]
        if ohms:
            found[supply] = contacts_of(ohms, None)
    return found


def _dilutions(entries: Sequence[Entry], jobs: _Jobs) -> list[Poured]:
    found = []
    for number, entry in enumerate(entries):
        if entry.kind is not Kind.DILUTION or entry.litres is None:
            continue
        before = state_of(entries[:number])
        strengths = None
        if before.litres is not None:
            kept = before.litres - (entry.drawn_litres or 0.0)
            strengths = kept / (kept + entry.litres)
        later = next((e.at_utc_ns for e in entries[number + 1 :] if e.kind in _NEW), None)
        earlier = before.changes[-1] if before.changes else 0
        old = [r for r in jobs.runs if earlier <= r.began_utc_ns < entry.at_utc_ns]
        new = [
            r
            for r in jobs.runs
            if r.began_utc_ns >= entry.at_utc_ns and (later is None or r.began_utc_ns < later)
        ]
        found.append(
            Poured(
                entry,
                strengths,
                _ratio(old, new, jobs),
                entry.amps_aimed,
                _amps_after(entry, old, new),
            )
        )
    return found


_NEW = (Kind.DILUTION, Kind.MAKE_UP, Kind.REPLACEMENT)


def _ratio(old: Sequence[JobRun], new: Sequence[JobRun], jobs: _Jobs) -> float | None:
    """Conductance of the bath alone after over before, by the set-ups that stood on both sides."""
    shifts = []
    for set_up in {one.set_up for one in old} & {one.set_up for one in new}:
        sides = []
        for side in (
            [one for one in old if one.set_up == set_up][-BESIDE:],
            [one for one in new if one.set_up == set_up][:BESIDE],
        ):
            logs = [log for one in side if (log := jobs.log_siemens(one)) is not None]
            if logs:
                sides.append(statistics.median(logs))
        if len(sides) == 2:
            shifts.append(sides[1] - sides[0])
    return math.exp(statistics.fmean(shifts)) if shifts else None


def _amps_after(entry: Entry, old: Sequence[JobRun], new: Sequence[JobRun]) -> float | None:
    """Start amps, at the volts reckoned with, of the first like job after it.

    Like is the set-up whose newest start before the dilution lies nearest to `amps_before`.
    """
    if entry.amps_before is None or entry.volts is None:
        return None
    starts = {
        one.set_up: one.siemens * (entry.volts - one.polarisation_volts)
        for one in old
        if one.set_up.supply == entry.supply and one.siemens is not None
    }
    if not starts:
        return None
    before = entry.amps_before
    like = min(starts, key=lambda set_up: abs(starts[set_up] - before))
    for one in new:
        if one.set_up == like and one.siemens is not None:
            return one.siemens * (entry.volts - one.polarisation_volts)
    return None
