"""How good the forecasts of one run were, seen from its trip."""

import math
from dataclasses import dataclass, field

AHEAD_S = (300.0, 120.0, 60.0)
"""How long before the trip the time told is compared with the truth."""
EARLIEST_S = 600.0
LATEST_S = 30.0
"""A warning is useful between these: earlier, nobody acts; later, nobody can."""
ASKED_EVERY_S = 10.0


@dataclass(frozen=True, slots=True)
class RunScore:
    """One method's score in one run.

    Parameters
    ----------
    seconds, trip_s
        How long it was watched, and when it tripped; None where it did not.
    raised_s
        When the warning was raised.
    stood
        Whether it was standing at the trip, or at the end where there was none.
    errors
        |told - true| / true of the time to the trip, so many seconds before it; infinite where no
        time was told. Left out where the run is too short, and where it did not trip.
    asked, held
        How often a 10-90 % range was told, looked at every ten seconds, and how often it was right.
    """

    seconds: float
    trip_s: float | None
    raised_s: tuple[float, ...] = ()
    stood: bool = False
    errors: dict[float, float] = field(default_factory=dict)
    asked: int = 0
    held: int = 0

    @property
    def lead_s(self) -> float | None:
        """Seconds from the warning that stood at the trip to the trip; None without one."""
        if self.trip_s is None or not self.stood or not self.raised_s:
            return None
        return self.trip_s - self.raised_s[-1]

    @property
    def is_useful(self) -> bool:
        """Whether a warning stood at the trip that was neither too early nor too late."""
        return self.lead_s is not None and LATEST_S <= self.lead_s <= EARLIEST_S


class Scoring:
    """Listens to one method during one run.

    Parameters
    ----------
    trip_s
        When the run trips; None where it does not.

    Examples
    --------
    A run that trips at 300 s, told of 100 s before, then of a time that is 10 % short:

    >>> scoring = Scoring(trip_s=300.0)
    >>> for t in range(0, 300):
    ...     left = 0.9 * (300.0 - t)
    ...     scoring.take(float(t), t >= 200, left, 0.8 * left, 1.3 * left)
    >>> score = scoring.end(300.0)
    >>> score.lead_s, score.is_useful, score.held == score.asked
    (100.0, True, True)
    >>> {ahead: round(error, 3) for ahead, error in score.errors.items()}
    {300.0: 0.1, 120.0: 0.1, 60.0: 0.1}
    """

    def __init__(self, trip_s: float | None) -> None:
        self._trip_s = trip_s
        self._raised_s: list[float] = []
        self._stood = False
        self._errors: dict[float, float] = {}
        self._waiting = [] if trip_s is None else [trip_s - a for a in AHEAD_S if trip_s >= a]
        self._asked = self._held = 0
        self._next_s = 0.0

    def take(
        self,
        t_s: float,
        stands: bool,
        trip_in_s: float | None = None,
        low_s: float | None = None,
        high_s: float | None = None,
    ) -> None:
        """Take what is told at `t_s`: whether the warning stands, and median and range.

        A `high_s` of None beside a `low_s` means beyond any horizon.
        """
        trip_s = self._trip_s
        if trip_s is None or t_s < trip_s:
            # Once the supply cuts out or holds, the warning has done its work.
            if stands and not self._stood:
                self._raised_s.append(t_s)
            self._stood = stands
        if trip_s is None:
            return
        while self._waiting and t_s >= self._waiting[0]:
            ahead_s = trip_s - self._waiting.pop(0)
            is_forecast = trip_in_s is not None
            left_s = trip_s - t_s
            error = (
                abs((trip_in_s or 0.0) - left_s) / left_s
                if is_forecast and left_s > 0.0
                else math.inf
            )
            self._errors[round(ahead_s, 6)] = error
        if t_s >= self._next_s and low_s is not None:
            self._next_s = t_s + ASKED_EVERY_S
            self._asked += 1
            self._held += low_s <= trip_s - t_s and (high_s is None or trip_s - t_s <= high_s)

    def end(self, seconds: float) -> RunScore:
        """The run is over."""
        return RunScore(
            seconds,
            self._trip_s,
            tuple(self._raised_s),
            self._stood,
            self._errors,
            self._asked,
            self._held,
        )
