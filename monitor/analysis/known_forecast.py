"""A known bath in; when it comes to the limit, minutes before a line through the samples can tell.

For the first minutes of a run, and for what is far off. Near the limit the trend knows better.
"""

import math

from monitor.analysis.known_bath import KnownBath
from monitor.analysis.look_ahead import Noise, chance_at, chances, look_ahead, time_of
from monitor.model.estimate import Forecast

LOOK_EVERY_S = 10.0
FIRST_LOOK_S, FIRST_LOOK_ALONE_S = 8.0, 40.0
"""After the first value: where earlier runs are known, and where none is."""
TOLD_S, STILL_TOLD_S = 2400.0, 3000.0
"""A limit is told that is likely reached within so long, and until it lies further off."""
LONGEST_S = 7200.0
WIDEST = 8.0
"""No range is told whose ends differ by a larger factor."""


class KnownForecast:
    """Looks ahead every ten seconds; between, the times count down.

    Parameters
    ----------
    horizon_s
        Of the chance.
    """

    def __init__(self, horizon_s: float) -> None:
        self.horizon_s = horizon_s
        self._began_s: float | None = None
        self._looked_s = -math.inf
        self._forecast: Forecast | None = None

    def restart(self) -> None:
        """Tell nothing until there is a value again."""
        self._forecast = None
        self._looked_s = -math.inf

    def update(
        self,
        t_s: float,
        known: KnownBath,
        volts: float,
        log_limit: float,
        noise: Noise,
        duty: float,
    ) -> None:
        """Take the next value's time, after the filters took it."""
        self._began_s = t_s if self._began_s is None else self._began_s
        wait_s = FIRST_LOOK_S if known.has_history else FIRST_LOOK_ALONE_S
        if t_s - self._began_s < wait_s or t_s - self._looked_s < LOOK_EVERY_S - 0.1:
            return
        self._looked_s = t_s
        mixed: list[float] = []
        times: list[float] = []
        for weight, bath in known.filters:
            course = look_ahead(bath, volts, LONGEST_S, duty=duty)
            chance = chances(course, log_limit, noise)
            times = course.times_s
            shares = [weight * one for one in chance]
            mixed = shares if not mixed else [a + b for a, b in zip(mixed, shares, strict=True)]
        self._forecast = self._told(times, mixed, chance_at(course, mixed, self.horizon_s))

    def _told(self, times: list[float], chance: list[float], soon: float) -> Forecast | None:
        low, median, high = (time_of(times, chance, share) for share in (0.1, 0.5, 0.9))
        most_s = TOLD_S if self._forecast is None else STILL_TOLD_S
        if low is None or median is None or median > most_s:
            return None
        if (LONGEST_S if high is None else high) > WIDEST * max(low, 1.0):
            return None
        return Forecast(median, low, high, min(soon, 1.0))

    def forecast(self, t_s: float) -> Forecast | None:
        """What is told at a time after the last value; None for nothing."""
        last = self._forecast
        if last is None or last.trip_in_s is None or last.trip_in_low_s is None:
            return None
        gone_s = t_s - self._looked_s
        high = last.trip_in_high_s
        return Forecast(
            max(last.trip_in_s - gone_s, 0.0),
            max(last.trip_in_low_s - gone_s, 0.0),
            None if high is None else max(high - gone_s, 0.0),
            last.chance_within_horizon,
        )
