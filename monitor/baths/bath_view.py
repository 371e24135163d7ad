"""Everything that the ledger and the runs of a store say about one bath."""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from drivers.base.nearest import nearest
from monitor.base.errors import WrongUse
from monitor.baths.advice import advice, usual_case
from monitor.baths.by_products import caustic_grams_per_amp_hour, chromium_grams
from monitor.baths.charge_need import Efficiency, learned_efficiency
from monitor.baths.connection import Contacts, contacts_of
from monitor.baths.dilution import Exponent, learned_exponent
from monitor.baths.job_run import JobRun, Vessel, job_run_of
from monitor.baths.ledger import Looks
from monitor.baths.poured import Poured, dilutions
from monitor.baths.series import Series, series_of
from monitor.baths.trend import Prospect, prospect_of
from monitor.model.advice import Advice
from monitor.model.entry import BathState, Entry, in_force, state_of
from monitor.model.faraday import (
    CHROMIUM_G_PER_MOL,
    amp_hours_to_strip,
    grams_per_amp_hour,
)
from monitor.store.bath_rows import BathBook
from monitor.store.failures import NoSuchStore
from monitor.store.reader import open_store

NEWEST = 8
"""Jobs that say what is usual."""
LEAST_AMP_HOURS = 0.005
"""A run with less charge was no job."""


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
    advice
        What to do about it; None where too little is known. Every screen, command and report
        tells this one.
    vessel
        The bath as the settings of its newest run describe it.
    series
        What bath, leads and contacts take together, for each set-up in the present solution.
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
    series: tuple[Series, ...]
    advice: Advice | None
    jobs_since: int
    amp_hours_since: float
    chromium_grams_since: float
    caustic_grams_since: float
    vessel: Vessel | None = None

    def usual_amps(self, supply: str) -> float:
        """Middle peak of the newest jobs at a supply; 0 where there is none."""
        peaks = [
            job.peak_amps
            for job in self.runs
            if job.set_up.supply == supply and job.peak_amps is not None
        ]
        return statistics.median(peaks[-NEWEST:]) if peaks else 0.0


def known_baths(path: Path) -> list[str]:
    """The baths that the store has entries or runs of.

    Raises
    ------
    StoreError
        See `open_store`.
    """
    names = {entry.bath for entry in BathBook(path).entries()}
    with open_store(path) as store:
        names |= {stored.bath() for stored in store.sound_runs()}
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


def view_of(path: Path, bath: str, vessel: Vessel | None = None) -> BathView:
    """Read one bath.

    Parameters
    ----------
    vessel
        The bath by bench.toml, for a bath whose runs kept no settings of it.

    Raises
    ------
    WrongUse
        There is no such bath.
    StoreError
        The store cannot be read.
    """
    must_be_known(path, bath)
    everything = BathBook(path).entries()
    entries = [entry for entry in everything if entry.bath == bath]
    looks = Looks(in_force(everything))
    runs = bath_runs(path, bath)
    prospect = prospect_of(state_of(entries), runs)
    with open_store(path) as store:
        poured = dilutions(store, in_force(entries), runs, prospect, looks)
    return make_view(bath, entries, looks, runs, poured, vessel)


def make_view(
    bath: str,
    entries: Sequence[Entry],
    looks: Looks,
    runs: Sequence[JobRun],
    poured: Sequence[Poured],
    vessel: Vessel | None = None,
) -> BathView:
    """What entries and jobs come to, the advice included: the same for the same facts.

    Parameters
    ----------
    entries, runs
        Those of the bath.
    looks
        The measurements of the leads of every supply.
    poured
        Its dilutions as they turned out.
    vessel
        See `view_of`.
    """
    state = state_of(entries)
    prospect = prospect_of(state, runs)
    seen = [
        (dilution.strengths, dilution.conductances)
        for dilution in poured
        if dilution.strengths is not None and dilution.conductances is not None
    ]
    exponent = learned_exponent(seen, state.solution)
    contacts = _contacts(bath, looks, runs)
    kept = [run.vessel for run in runs if run.vessel is not None]
    vessel = kept[-1] if kept else vessel
    try:
        advised = advice(usual_case(state, runs, contacts, prospect), state, exponent, vessel)
    except WrongUse:
        advised = None
    since = [run for run in runs if run.began_utc_ns >= (state.made_up_utc_ns or 0)]
    chromium = math.fsum(
        chromium_grams(run.area_dm2, run.micrometres)
        for run in since
        if run.is_finished and run.area_dm2 is not None and run.micrometres is not None
    )
    per_gram = caustic_grams_per_amp_hour() / grams_per_amp_hour(CHROMIUM_G_PER_MOL, 6)
    return BathView(
        bath=bath,
        entries=tuple(entries),
        runs=tuple(runs),
        state=state,
        efficiency=learned_efficiency(finished(runs)),
        exponent=exponent,
        poured=tuple(poured),
        prospect=prospect,
        contacts=contacts,
        advice=advised,
        vessel=vessel,
        series=tuple(series_of(state, runs, looks)),
        jobs_since=len(since),
        amp_hours_since=math.fsum(run.amp_hours for run in since),
        chromium_grams_since=chromium,
        caustic_grams_since=chromium * per_gram,
    )


def bath_runs(path: Path, bath: str) -> list[JobRun]:
    """The ended jobs of one bath, in order."""
    jobs = []
    with open_store(path) as store:
        for stored in store.sound_runs():
            if stored.bath() == bath and stored.row.ended_utc_ns is not None:
                job = job_run_of(stored)
                if job.amp_hours >= LEAST_AMP_HOURS:
                    jobs.append(job)
    return sorted(jobs, key=lambda job: job.began_utc_ns)


def finished(runs: Sequence[JobRun]) -> list[tuple[float, float]]:
    """Least and passed ampere-hours of the runs after which the water film held."""
    return [
        (amp_hours_to_strip(job.area_dm2, job.micrometres), job.amp_hours - job.before_amp_hours)
        for job in runs
        if job.is_finished and job.area_dm2 is not None and job.micrometres is not None
    ]


def _contacts(bath: str, looks: Looks, runs: Sequence[JobRun]) -> dict[str, Contacts]:
    copper = {run.set_up.supply: run.copper_ohms for run in runs}
    feeding = {
        *copper,
        *(entry.supply for entry in looks.entries if entry.bath == bath and entry.supply),
    }
    contacts = {}
    for supply in sorted(feeding):
        ohms = [look.ohms for look in looks.of(supply) if look.ohms is not None]
        if ohms:
            contacts[supply] = contacts_of(ohms, copper.get(supply))
    return contacts
