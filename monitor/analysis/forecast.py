"""The forecast: when the amps reach the limit, from evenly spaced log-conductances."""

import math

from monitor.analysis.crossing import Crossing
from monitor.analysis.noise import Noise
from monitor.analysis.trend import Trend
from monitor.model.estimate import Forecast, NoForecast

_NOT_ENOUGH_DATA = NoForecast.NOT_ENOUGH_DATA
_NO_RISE = NoForecast.NO_RISE
_GAP = NoForecast.GAP
"""Held here: in Python 3.11 finding a member in its class takes ten times as long."""

PER_MINUTE = 1.0 / 60.0
TANK_SLOPE_SD = 0.01 * PER_MINUTE
SWAB_SLOPE_SD = 0.03 * PER_MINUTE
"""How fast conductance rises, give or take, before anything is known (common practice, no
source)."""
TANK_SLOPE_WALK = 2e-14
SWAB_SLOPE_WALK = 1e-10
"""Variance that the slope gains per second, 1/s3: 0.007 and 0.5 % a minute in a minute.
In a tank the line reaches back some minutes; a slope that changes faster shows in the surprises."""
AHEAD_SLOPE_WALK = 1e-12
"""The same for the time to come, in a tank: a change there is not yet seen."""
TANK_WHITE = 0.002**2
SWAB_WHITE = 0.015**2
STATED_WANDER = 0.005**2
STATED_MEMORY_S = 20.0
LEAST_VARIANCE = 1e-8

READY_S = 30.0
UNSEEN_S = 1000.0
"""What a slope was is forgotten so fast while nobody sees the bath."""
LONGEST_UNSEEN_S = 600.0
LONGEST_SILENCE_S = 60.0
UNSEEN_LEVEL_WALK = 1e-7
"""Across a silence of the link that is no longer, the level is kept too: this is the variance that
it gains per second of it, 1/s."""
READY_BINS = 3
READY_TOPS = 2
IN_SIGHT_HORIZONS = 7.5
IN_SURE_SIGHT_HORIZONS = 15.0
LONGEST_HORIZONS = 20.0
"""A trip comes into sight at so many horizons, a plain rise at twice as many, and is told until it
lies further than the last: the distance keeps word and number from coming and going."""
SURE_SD = 1.3
"""A rise is told once the slope stands this many standard deviations above nothing."""
STILL_SURE_SD = 0.7
PLAIN_SD = 3.0
"""A rise that stands so many above nothing is told from further off."""
LOOK_EVERY_S = 4.0
TIMES_EVERY_S = 8.0
"""The chance and the times are reckoned anew this often; between, the times count down."""
OUT_OF_REACH_SD = 4.5
SWAB_WHITE_SHARE = 0.5
"""Half of what single strokes do about the tops; the other half never lasts long enough."""
DOUBT = 1.5
"""Factor on the trend's variances: real noise hangs together more than one AR(1) tells."""
SHORTEST_PEAK_S = 0.5
PEAK_SD = 1.6
"""The highest of some two minutes of a wander of 30 s memory stands about here."""

CLIP_SD = 3.0
LOST_SD = 3.5
LOST_BINS = 3
"""So many values in a row on one side, so far off: the conductance has left the trend."""
DOUBT_SD = 0.005 * PER_MINUTE
LEAN_KEEP = 0.93
LEAN_MOST = 0.75
"""A running mean of the surprises has an sd of 0.19; past four of them the slope is in doubt. At
three, baths that had come to rest at 98 % of the limit raised eight times in 132 hours."""

FAR = Forecast(chance_within_horizon=0.0, why=_NO_RISE)


class Forecaster:
    """Follows the bath's log-conductance and says when its peaks reach the limit.

    Values come as one per bin: the mean of two seconds in a tank; in swab work the highest of some
    nine strokes, since between strokes contact says nothing about the bath. After a step or a fall
    that the trend cannot follow, the trend starts anew with no slope at all, so that the slow climb
    after a finished strip has to show itself first.

    Parameters
    ----------
    horizon_s
        How far ahead the chance looks.
    bin_s
        Spacing of the values.
    is_swab
        Whether the values are tops of swab work.

    Examples
    --------
    A rise of 1.2 % a minute from 6 % under the limit trips after five minutes:

    >>> forecaster = Forecaster(horizon_s=120.0, bin_s=1.0)
    >>> for t in range(180):
    ...     forecaster.update(t, float(t), 0.0002 * t + 0.001 * (-1) ** (t // 3), 0.06)
    >>> forecaster.forecast.why is None
    True
    >>> forecaster.forecast.trip_in_low_s < 120.0 < forecaster.forecast.trip_in_high_s
    True

    References
    ----------
    See `Trend`, `Noise` and `Crossing`.
    """

    __slots__ = (
        "_began_s",
        "_bin_s",
        "_bins",
        "_counted_s",
        "_knows_slope",
        "_lean",
        "_looked_s",
        "_lost_bins",
        "_lost_side",
        "_ready_bins",
        "_ready_s",
        "_times_s",
        "_why",
        "forecast",
        "horizon_s",
        "is_settled",
        "is_swab",
        "noise",
        "peak_excess",
        "trend",
    )

    def __init__(self, horizon_s: float, bin_s: float, is_swab: bool = False) -> None:
        self.horizon_s = horizon_s
        self._bin_s = bin_s
        self.is_swab = is_swab
        self.trend = (
            Trend(SWAB_SLOPE_SD, SWAB_SLOPE_WALK, clip=CLIP_SD)
            if is_swab
            else Trend(TANK_SLOPE_SD, TANK_SLOPE_WALK, clip=CLIP_SD)
        )
        self.noise = Noise(
            bin_s, SWAB_WHITE if is_swab else TANK_WHITE, STATED_WANDER, STATED_MEMORY_S
        )
        self.peak_excess = 0.0
        self.is_settled = False
        self.forecast = Forecast(why=_NOT_ENOUGH_DATA)
        self._why = _NOT_ENOUGH_DATA
        self._ready_s = READY_S
        self._ready_bins = READY_TOPS if is_swab else READY_BINS
        self._knows_slope = False
        self._bins = 0
        self._began_s: float | None = None
        self._times_s: float | None = None
        self._looked_s: float | None = None
        self._counted_s = 0.0
        self._lost_bins = 0
        self._lost_side = 0
        self._lean = 0.0

    def restart(
        self, why: NoForecast, unseen_s: float = math.inf, ready_s: float = READY_S
    ) -> None:
        """Begin a new stretch, and say `why` until it is `ready_s` long.

        The noise is kept always; the slope as far as the bath went on by itself, unseen for
        `unseen_s`; the level across a short silence of the link. Where no slope was known yet, the
        stretch must be as long as the first.
        """
        if self.is_settled:
            self._knows_slope = True
        if unseen_s > LONGEST_UNSEEN_S:
            self._knows_slope = False
        if not self._knows_slope:
            ready_s = READY_S
        if why is _GAP and unseen_s <= LONGEST_SILENCE_S and self.is_settled:
            self.trend.doubt_level(UNSEEN_LEVEL_WALK * unseen_s)
        else:
            self.trend.restart(math.exp(-unseen_s / UNSEEN_S))
        self.noise.forget_values()
        self.forecast = Forecast(why=why)
        self._why = why
        self._ready_s = ready_s
        self.is_settled = False
        self._bins = 0
        self._began_s = None
        self._times_s = self._looked_s = None
        self._lost_bins = 0
        self._lean = 0.0

    def withhold(self, why: NoForecast) -> None:
        """Give no forecast now, for a reason that is not the trend's."""
        if self.forecast.why is not why or self.forecast.chance_within_horizon is not None:
            self.forecast = Forecast(why=why)
            self._times_s = self._looked_s = None

    def update(self, index: int, t_s: float, x: float, limit_x: float) -> None:
        """Take one value.

        Parameters
        ----------
        index
            Its place on the even grid of bins.
        t_s
            Its true time, seconds.
        x, limit_x
            Log-conductance, and where it would draw the limit's amps at the present volts.
        """
        trend, noise = self.trend, self.noise
        noise.update(index, x)
        trend.set_noise(noise.white, noise.wander, noise.memory_s)
        if self._began_s is None:
            self._began_s = t_s
        self._bins += 1
        if self._is_lost(trend.update(t_s, x)):
            self.restart(_NOT_ENOUGH_DATA)
            self.update(index, t_s, x, limit_x)
            return
        if t_s - self._began_s < self._ready_s or self._bins < self._ready_bins:
            self.withhold(self._why)
            return
        self._why = _NOT_ENOUGH_DATA
        self.is_settled = True
        self._look_ahead(t_s, limit_x)

    def _is_lost(self, surprise: float) -> bool:
        """See to values that the trend did not foresee; True where it must start anew."""
        side = 1 if surprise > LOST_SD else -1 if surprise < -LOST_SD else 0
        self._lost_bins = 0 if not side else self._lost_bins + 1 if side == self._lost_side else 1
        self._lost_side = side
        if self._lost_bins >= LOST_BINS:
            return True
        clipped = max(-CLIP_SD, min(surprise, CLIP_SD))
        self._lean = LEAN_KEEP * self._lean + (1.0 - LEAN_KEEP) * clipped
        if self._lean > LEAN_MOST or self._lean < -LEAN_MOST:
            self.trend.doubt_slope(DOUBT_SD**2)
            self._lean = 0.0
        return False

    def _look_ahead(self, t_s: float, limit_x: float) -> None:
        trend, noise, horizon_s = self.trend, self.noise, self.horizon_s
        if self._looked_s is not None and t_s - self._looked_s < LOOK_EVERY_S - 0.1:
            self._count_down(t_s)
            return
        self._looked_s = t_s
        # A tank's white noise is the meter's; a swab's is the hand's, and does trip supplies.
        white = SWAB_WHITE_SHARE * noise.white if self.is_swab else 0.0
        variance = noise.wander + white + LEAST_VARIANCE
        memory_s = variance / (
            noise.wander / noise.memory_s + 2.0 * white / self._bin_s + LEAST_VARIANCE
        )
        self.peak_excess = PEAK_SD * math.sqrt(variance)
        sure = STILL_SURE_SD if self.forecast.trip_in_s is not None else SURE_SD
        slope_sd = math.sqrt(trend.slope_variance)
        is_sure = trend.slope > sure * slope_sd
        if not is_sure and self._is_out_of_reach(limit_x - trend.level, variance):
            self._times_s = None
            self.forecast = FAR
            return
        walk = SWAB_SLOPE_WALK if self.is_swab else AHEAD_SLOPE_WALK
        crossing = Crossing(
            limit_x - trend.level,
            trend.slope,
            DOUBT * trend.level_variance,
            DOUBT * trend.slope_variance + walk * horizon_s / 3.0,
            DOUBT * trend.level_slope,
            variance,
            memory_s,
            SHORTEST_PEAK_S,
            limit_x - trend.level - trend.wander,
        )
        chance = crossing.chance(horizon_s)
        longest_s = LONGEST_HORIZONS * horizon_s
        is_told = self._times_s is not None
        is_plain = trend.slope > PLAIN_SD * slope_sd
        sight_s = (IN_SURE_SIGHT_HORIZONS if is_plain else IN_SIGHT_HORIZONS) * horizon_s
        times = None
        if chance >= 0.5 or (is_sure and (is_told or crossing.chance(sight_s) >= 0.5)):
            times = self._times(t_s, crossing, longest_s)
        if times is None:
            self._times_s = None
            self.forecast = Forecast(chance_within_horizon=chance, why=_NO_RISE)
        else:
            self.forecast = Forecast(*times, chance)

    def _is_out_of_reach(self, distance: float, variance: float) -> bool:
        """Whether no peak can come to the limit within the horizon, with a margin."""
        trend, horizon_s = self.trend, self.horizon_s
        slope = trend.slope + OUT_OF_REACH_SD * math.sqrt(trend.slope_variance)
        peak = OUT_OF_REACH_SD * math.sqrt(variance + trend.level_variance)
        return distance - max(slope, 0.0) * horizon_s > peak

    def _count_down(self, t_s: float) -> None:
        """Between two looks only the time goes on."""
        last = self.forecast
        if last.trip_in_s is None:
            return
        step_s = min(self._bin_s, t_s - self._counted_s)
        self._counted_s = t_s
        low, high = last.trip_in_low_s, last.trip_in_high_s
        self.forecast = Forecast(
            max(last.trip_in_s - step_s, 0.0),
            None if low is None else max(low - step_s, 0.0),
            None if high is None else max(high - step_s, 0.0),
            last.chance_within_horizon,
        )

    def _times(
        self, t_s: float, crossing: Crossing, longest_s: float
    ) -> tuple[float, float, float | None] | None:
        """Median, 10 % and 90 % point, from the last ones as far as there are any.

        None where the median lies beyond what is in sight.
        """
        last = self.forecast
        median, low, high = last.trip_in_s, last.trip_in_low_s, last.trip_in_high_s
        if self._times_s is not None and median is not None and low is not None:
            if t_s - self._times_s < TIMES_EVERY_S - 0.1:
                step_s = t_s - self._counted_s
                self._counted_s = t_s
                return (
                    max(median - step_s, 0.0),
                    max(low - step_s, 0.0),
                    None if high is None else max(high - step_s, 0.0),
                )
            self._times_s = self._counted_s = t_s
            if high is not None:
                near = crossing.times_near(low, median, high, longest_s)
                if near is not None:
                    return near
        else:
            self._times_s = self._counted_s = t_s
            median, low, high = self.horizon_s, 0.6 * self.horizon_s, None
        crossing_s = crossing.time_at(0.5, median, longest_s)
        if crossing_s is None:
            return None
        median = crossing_s
        low_found = crossing.time_at(0.1, low, longest_s)
        low = median if low_found is None else min(low_found, median)
        high = crossing.time_at(0.9, 1.8 * median if high is None else high, 4.0 * longest_s)
        return median, low, None if high is None else max(high, median)
