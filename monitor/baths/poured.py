"""How each dilution turned out: predicted against measured amps."""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from monitor.baths.dilution import promise_error
from monitor.baths.job_run import JobRun, SetUp
from monitor.baths.ledger import Looks
from monitor.baths.trend import Prospect
from monitor.model.entry import Entry, Kind, state_of
from monitor.model.run import RunRow
from monitor.store.reader import Store

BESIDE = 3
"""Jobs on either side of a dilution that are compared."""
SETTLES_S = 30.0
MINUTES_S = 300.0
"""After water has been stirred in, so many seconds are looked at."""
LEAST_MINUTES_S = 20.0
NEW = (Kind.DILUTION, Kind.MAKE_UP, Kind.REPLACEMENT)


@dataclass(frozen=True, slots=True)
class After:
    """What was found after a dilution, at the volts that were reckoned with.

    Parameters
    ----------
    amps
        The middle of them.
    where
        In words, such as "the next 5 min of run 12".
    """

    amps: float
    where: str


@dataclass(frozen=True, slots=True)
class Poured:
    """One dilution as it turned out.

    Parameters
    ----------
    strengths, conductances
        Ratios after over before; conductances at one temperature and without the leads, None
        without jobs on both sides.
    amps_promised
        None where nothing was aimed at.
    after
        None while nothing has shown what it came to.
    """

    entry: Entry
    strengths: float | None
    conductances: float | None
    amps_promised: float | None
    after: After | None

    @property
    def error(self) -> float | None:
        """How far the promise was missed."""
        if self.amps_promised is None or self.after is None:
            return None
        return promise_error(self.amps_promised, self.after.amps)


@dataclass(frozen=True, slots=True)
class _Jobs:
    """The jobs with what is taken out before two of them are compared."""

    runs: Sequence[JobRun]
    prospect: Prospect
    looks: Looks

    def log_siemens(self, run: JobRun) -> float | None:
        """ln of the bath's own conductance, without leads and without the growth by jobs."""
        lead_ohms = self.looks.ohms_at(run.set_up.supply, run.began_utc_ns)
        if run.series_ohms is None or run.series_ohms <= lead_ohms:
            return None
        trend = self.prospect.trend
        grown = 0.0 if trend is None else math.log1p(trend.per_job) * self.runs.index(run)
        return -math.log(run.series_ohms - lead_ohms) - grown


def dilutions(
    store: Store,
    entries: Sequence[Entry],
    runs: Sequence[JobRun],
    prospect: Prospect,
    looks: Looks,
) -> list[Poured]:
    """Every dilution of one bath.

    Parameters
    ----------
    entries
        The bath's, in force.
    runs
        Its ended jobs, in order.

    Raises
    ------
    StoreError
        The store cannot be read.
    """
    dilutions = []
    jobs = _Jobs(runs, prospect, looks)
    for number, entry in enumerate(entries):
        if entry.kind is not Kind.DILUTION or entry.litres is None:
            continue
        before = state_of(entries[:number])
        strengths = None
        if before.litres is not None:
            kept = before.litres - (entry.drawn_litres or 0.0)
            strengths = kept / (kept + entry.litres)
        later = next((e.at_utc_ns for e in entries[number + 1 :] if e.kind in NEW), None)
        earlier = before.changes[-1] if before.changes else 0
        old = [r for r in runs if earlier <= r.began_utc_ns < entry.at_utc_ns]
        new = [
            r
            for r in runs
            if r.began_utc_ns >= entry.at_utc_ns and (later is None or r.began_utc_ns < later)
        ]
        after = None
        if entry.amps_aimed is not None and entry.volts is not None:
            after = _next_minutes(store, entry, later) or _next_job(entry, old, new)
        dilutions.append(Poured(entry, strengths, _ratio(old, new, jobs), entry.amps_aimed, after))
    return dilutions


def _ratio(old: Sequence[JobRun], new: Sequence[JobRun], jobs: _Jobs) -> float | None:
    """Conductance of the bath alone after over before, by the set-ups that stood on both sides."""
    shifts = []
    for set_up in {job.set_up for job in old} & {job.set_up for job in new}:
        sides = []
        for side in (
            [job for job in old if job.set_up == set_up][-BESIDE:],
            [job for job in new if job.set_up == set_up][:BESIDE],
        ):
            logs = [log for job in side if (log := jobs.log_siemens(job)) is not None]
            if logs:
                sides.append(statistics.median(logs))
        if len(sides) == 2:
            shifts.append(sides[1] - sides[0])
    return math.exp(statistics.fmean(shifts)) if shifts else None


def _next_minutes(store: Store, entry: Entry, later_ns: int | None) -> After | None:
    """The amps of the run that went on over the dilution: the same work hangs in it."""
    assert entry.volts is not None
    for stored in store.sound_runs(entry.supply or None):
        row = stored.row
        if stored.bath() != entry.bath or not _spans(row, entry.at_utc_ns):
            continue
        began_s = (entry.at_utc_ns - row.began_utc_ns) / 1e9 + SETTLES_S
        ends_s = began_s + MINUTES_S
        if later_ns is not None:
            ends_s = min(ends_s, (later_ns - row.began_utc_ns) / 1e9)
        known = [
            (estimate.t_s, estimate.siemens, estimate.polarisation_volts)
            for estimate in stored.estimates(began_s, ends_s)
            if estimate.in_contact
            and estimate.siemens is not None
            and estimate.polarisation_volts is not None
        ]
        if known and known[-1][0] - known[0][0] >= LEAST_MINUTES_S:
            amps = statistics.median(g * (entry.volts - e0) for _, g, e0 in known)
            minutes = max((known[-1][0] - began_s) / 60.0, 0.5)
            return After(amps, f"the next {minutes:.0f} min of run {row.run}")
    return None


def _spans(row: RunRow, at_ns: int) -> bool:
    return row.began_utc_ns <= at_ns and (row.ended_utc_ns is None or at_ns < row.ended_utc_ns)


def _next_job(entry: Entry, old: Sequence[JobRun], new: Sequence[JobRun]) -> After | None:
    """Start amps, at the volts reckoned with, of the first like job after it.

    Like is the set-up whose newest start before the dilution lies nearest to `amps_before`.
    """
    if entry.amps_before is None or entry.volts is None:
        return None
    starts: dict[SetUp, float] = {
        job.set_up: job.siemens * (entry.volts - job.polarisation_volts)
        for job in old
        if job.set_up.supply == entry.supply and job.siemens is not None
    }
    if not starts:
        return None
    before = entry.amps_before
    like = min(starts, key=lambda set_up: abs(starts[set_up] - before))
    for job in new:
        if job.set_up == like and job.siemens is not None:
            amps = job.siemens * (entry.volts - job.polarisation_volts)
            return After(amps, f"the start of run {job.run}, a like job")
    return None
