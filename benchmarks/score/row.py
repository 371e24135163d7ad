"""The scores of many runs as one row of figures."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from benchmarks.score.run_score import AHEAD_S, RunScore


@dataclass(frozen=True, slots=True)
class Row:
    """One method over one family, or over all.

    Parameters
    ----------
    runs, slow_trips, useful
        Runs scored; those that tripped with a slow cause; those of them with a useful warning.
    quiet_hours, false_raises
        Hours of the runs that did not trip, and the warnings raised in them.
    lead_s
        Median lead of the warnings that stood at a slow trip; None without any.
    errors
        Median relative error of the time to the trip, by seconds before it; infinite where no time
        was told in half of them.
    asked, held
        Ranges told before slow trips, and those that held the truth.
    untold
        Slow trips of which no time was told, by seconds before them.
    """

    runs: int
    slow_trips: int
    useful: int
    quiet_hours: float
    false_raises: int
    lead_s: float | None
    errors: dict[float, float]
    asked: int
    held: int
    untold: dict[float, int]

    @property
    def useful_share(self) -> float | None:
        """Useful warnings per slow trip, 0 to 1."""
        return self.useful / self.slow_trips if self.slow_trips else None

    @property
    def coverage(self) -> float | None:
        """Share of the ranges that held the truth, 0 to 1."""
        return self.held / self.asked if self.asked else None


def row_of(scores: Sequence[tuple[RunScore, bool]]) -> Row:
    """Sum up runs; the second value tells whether a trip had a slow cause.

    >>> quiet = RunScore(7200.0, None, raised_s=(100.0,))
    >>> trip = RunScore(600.0, 600.0, (500.0,), True, {60.0: 0.2}, 10, 8)
    >>> row = row_of([(quiet, False), (trip, True)])
    >>> row.useful_share, row.false_raises, row.quiet_hours, row.errors, row.coverage
    (1.0, 1, 2.0, {60.0: 0.2}, 0.8)
    """
    slow = [score for score, is_slow in scores if is_slow and score.trip_s is not None]
    quiet = [score for score, _ in scores if score.trip_s is None]
    leads = [score.lead_s for score in slow if score.lead_s is not None]
    errors, untold = {}, {}
    for ahead_s in AHEAD_S:
        errors_seen = [score.errors[ahead_s] for score in slow if ahead_s in score.errors]
        if errors_seen:
            errors[ahead_s] = median(errors_seen)
            untold[ahead_s] = sum(math.isinf(error) for error in errors_seen)
    return Row(
        runs=len(scores),
        slow_trips=len(slow),
        useful=sum(score.is_useful for score in slow),
        quiet_hours=sum(score.seconds for score in quiet) / 3600.0,
        false_raises=sum(len(score.raised_s) for score in quiet),
        lead_s=median(leads) if leads else None,
        errors=errors,
        asked=sum(score.asked for score in slow),
        held=sum(score.held for score in slow),
        untold=untold,
    )
