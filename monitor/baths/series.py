"""The resistance in series with a bath's jobs, one value for each set-up.

The series resistance is that of the volts beyond the polarisation voltage, which volt steps and
soft starts teach; within one solution only, since water changes the bath's part of it.
"""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from monitor.baths.job_run import JobRun, SetUp
from monitor.baths.ledger import Looks
from monitor.model.entry import BathState

ENDS = 3
"""Jobs at either end that stand for then and now."""
GROWN = 0.08
"""Share by which it must have grown before the leads are to be looked at: a day's own part of it is
about 1 % (our choice)."""


@dataclass(frozen=True, slots=True)
class Series:
    """One set-up over its jobs in the present solution.

    Parameters
    ----------
    first_ohms, last_ohms
        Middle of the first and of the last jobs, in series, at 25 C where the temperature is known.
    per_job_ohms, sd
        Slope over the jobs, and its standard error; None with fewer than four jobs.
    lead_ohms, copper_ohms
        Of it the leads with contacts at the last look, and what their gauge and length explain
        (ASTM B258); None where not known.
    """

    set_up: SetUp
    jobs: int
    first_ohms: float
    last_ohms: float
    per_job_ohms: float | None
    sd: float | None
    lead_ohms: float | None
    copper_ohms: float | None

    @property
    def contact_ohms(self) -> float | None:
        """What gauge and length do not explain; None without a look."""
        if self.lead_ohms is None:
            return None
        return max(self.lead_ohms - (self.copper_ohms or 0.0), 0.0)

    @property
    def wants_a_look(self) -> bool:
        """Whether it has grown for sure: bad contacts, or a bath that conducts less."""
        if self.per_job_ohms is None or self.sd is None:
            return False
        is_sure = self.per_job_ohms > 2.0 * self.sd
        return is_sure and self.last_ohms > self.first_ohms * (1.0 + GROWN)


def series_of(state: BathState, runs: Sequence[JobRun], looks: Looks) -> list[Series]:
    """Every set-up that stood in the present solution, the one with the most jobs first."""
    began = state.changes[-1] if state.changes else 0
    groups: dict[SetUp, list[JobRun]] = {}
    for job in runs:
        if job.began_utc_ns >= began and job.series_ohms is not None:
            groups.setdefault(job.set_up, []).append(job)
    all_series = [_series(set_up, jobs, looks) for set_up, jobs in groups.items()]
    return sorted(all_series, key=lambda series: (-series.jobs, series.set_up.line))


def _series(set_up: SetUp, jobs: Sequence[JobRun], looks: Looks) -> Series:
    ohms = [job.series_ohms for job in jobs if job.series_ohms is not None]
    slope, sd = _slope(ohms)
    return Series(
        set_up,
        len(ohms),
        statistics.median(ohms[:ENDS]),
        statistics.median(ohms[-ENDS:]),
        slope,
        sd,
        looks.ohms_at(set_up.supply, jobs[-1].began_utc_ns) or None,
        jobs[-1].copper_ohms,
    )


def _slope(values: Sequence[float]) -> tuple[float | None, float | None]:
    """Ordinary least squares over the number of the job, with the slope's standard error."""
    count = len(values)
    if count < 4:
        return None, None
    middle, mean = (count - 1) / 2.0, math.fsum(values) / count
    down = math.fsum((n - middle) ** 2 for n in range(count))
    slope = math.fsum((n - middle) * (value - mean) for n, value in enumerate(values)) / down
    left_over = math.fsum(
        (value - mean - slope * (n - middle)) ** 2 for n, value in enumerate(values)
    )
    return slope, math.sqrt(left_over / (count - 2) / down)
