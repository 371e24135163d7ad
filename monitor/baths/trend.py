"""How the conductance of a bath goes from job to job, and the jobs left to the limit.

Only like is compared with like: within one set-up and one solution (between make-up, dilutions and
replacement) the logarithms of the index share one slope, each group with a level of its own.
"""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from monitor.baths.charge_need import TENTH
from monitor.baths.job_run import JobRun, SetUp
from monitor.model.entry import BathState

RECENT = 8
LEAST_JOBS = 4
MOST_JOBS = 999.0
LAW_SD = 0.05
"""How far growth by a constant share a job misses the jobs left: a bath that draws more warms more,
and leads take their part (found over 200 simulated lives, benchmarks/JOB.md)."""
LEVEL_SD = 0.05
"""Spread of a job's peak over its start, before there are two jobs."""


@dataclass(frozen=True, slots=True)
class Trend:
    """How the conductance index grows.

    Parameters
    ----------
    per_job, low, high
        Share by which a job changes it, and the 10 % and 90 % points.
    jobs
        How many jobs it was found from.
    """

    per_job: float
    low: float
    high: float
    jobs: int


@dataclass(frozen=True, slots=True)
class Prospect:
    """What is ahead of a bath with its usual job.

    Parameters
    ----------
    trend
        None with too few jobs.
    peak_amps, limit_amps
        What the usual job's peak comes to now, and the supply's limit.
    jobs_left, low, high
        Jobs until that peak is at the limit; None where it never comes to it. `low` is the
        pessimist's number.
    set_up
        Whose these are.
    """

    trend: Trend | None
    peak_amps: float | None
    limit_amps: float | None
    jobs_left: float | None
    low: float | None
    high: float | None
    set_up: SetUp | None


def prospect_of(state: BathState, runs: Sequence[JobRun]) -> Prospect:
    """Look ahead from the jobs since the make-up; the newest job's set-up is the usual one.

    References
    ----------
    Ordinary least squares with a level for each group (analysis of covariance).
    """
    since = [job for job in runs if job.began_utc_ns >= (state.made_up_utc_ns or 0)]
    since = [job for job in since if job.siemens is not None and job.siemens > 0.0]
    groups: dict[tuple[SetUp, int], list[tuple[float, float]]] = {}
    for number, job in enumerate(since):
        key = (job.set_up, state.stretch(job.began_utc_ns))
        groups.setdefault(key, []).append((float(number), math.log(job.siemens or 1.0)))
    trend = _trend(list(groups.values()))
    if not since:
        return Prospect(trend, None, None, None, None, None, None)
    newest = since[-1]
    points = groups[(newest.set_up, state.stretch(newest.began_utc_ns))]
    slope = 0.0 if trend is None else math.log1p(trend.per_job)
    now = float(len(since))
    level = statistics.fmean(y + slope * (now - x) for x, y in points[-RECENT:])
    alike = [job for job in since if job.set_up == newest.set_up][-RECENT:]
    warmed = [
        math.log(peak / job.siemens)
        for job in alike
        if (peak := job.peak_siemens) is not None and job.siemens
    ]
    volts = [job.volts - job.polarisation_volts for job in alike if job.volts is not None]
    if not warmed or not volts:
        return Prospect(trend, None, newest.limit_amps, None, None, None, newest.set_up)
    amps = statistics.median(volts) * math.exp(level + statistics.median(warmed))
    room = math.log(newest.limit_amps / amps)
    left = low = high = None
    if room <= 0.0:
        left = low = high = 0.0
    elif trend is not None:
        left, low, high = _ahead(room, trend, _spread(warmed) / math.sqrt(len(warmed)))
    return Prospect(trend, amps, newest.limit_amps, left, low, high, newest.set_up)


def _ahead(
    room: float, trend: Trend, level_sd: float
) -> tuple[float | None, float | None, float | None]:
    """Jobs left with the 10 % and 90 % points: of the slope, the level and the law itself."""
    left = _jobs(room, trend.per_job)
    if left is None:
        return None, _jobs(room, trend.high), None
    slope = math.log1p(trend.per_job)
    reach = math.hypot(
        (math.log1p(trend.high) - slope) / slope,
        TENTH * level_sd / room,
        TENTH * LAW_SD,
    )
    return left, left / (1.0 + reach), left / (1.0 - reach) if reach < 0.95 else None


def _spread(values: Sequence[float]) -> float:
    return statistics.stdev(values) if len(values) > 1 else LEVEL_SD


def _jobs(room: float, per_job: float) -> float | None:
    slope = math.log1p(per_job)
    if slope <= room / MOST_JOBS:
        return None
    return room / slope


def _trend(groups: list[list[tuple[float, float]]]) -> Trend | None:
    """One slope for all groups; None with fewer than four jobs or no two in one group."""
    across = down = 0.0
    jobs = free = 0
    centred: list[tuple[float, float]] = []
    for points in groups:
        if len(points) < 2:
            continue
        mean_x = statistics.fmean(x for x, _ in points)
        mean_y = statistics.fmean(y for _, y in points)
        centred += [(x - mean_x, y - mean_y) for x, y in points]
        jobs += len(points)
        free += len(points) - 1
    if jobs < LEAST_JOBS or free < 2:
        return None
    across = math.fsum(x * y for x, y in centred)
    down = math.fsum(x * x for x, _ in centred)
    slope = across / down
    left_over = math.fsum((y - slope * x) ** 2 for x, y in centred)
    dof = free - 1
    reach = _tenth(dof) * math.sqrt(left_over / dof / down)
    return Trend(math.expm1(slope), math.expm1(slope - reach), math.expm1(slope + reach), jobs)


def _tenth(dof: int) -> float:
    """Student's 90 % point, within 5 % from one degree of freedom on.

    >>> round(_tenth(1), 2), round(_tenth(10), 2)
    (3.08, 1.39)
    """
    return 1.2816 * (1.0 + 0.75 / dof + 0.65 / dof**2)
