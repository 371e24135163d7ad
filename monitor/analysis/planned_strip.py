"""A strip reckoned before the current flows: its amps, time and warming at some volts.

The same bath model as while it runs (`bath_filter.py`), with the level that like jobs had or that
the usual current density gives, and with the doubt of both.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from monitor.analysis.known_bath import KnownBath, Weighed
from monitor.analysis.look_ahead import (
    Course,
    Noise,
    chance_at,
    chances,
    look_ahead,
    time_of,
)
from monitor.model.strip_plan import Outlook, Range

TENTH = 1.2816
"""Standard normal deviate of the 10 % and 90 % points."""
FIRST_S = 330.0
"""Before anybody comes and acts: in this time the volts alone must do."""
MOST_FIRST, MOST_IN_ALL = 0.05, 0.25
"""Chance of a cut-out in that time, and until the end: later the running advice helps."""
UNKNOWN_END_S = 1200.0
"""For how long to look where the charge is not known."""
LONGEST_S = 7200.0
NOISE = Noise(0.007**2, 30.0)
"""What a bath's amps wander about their mean (simulated baths)."""
PAUSES_S = (300.0, 600.0, 900.0, 1200.0, 1800.0, 2700.0, 3600.0)


class Level(NamedTuple):
    """The amps shortly after switching on, at some volts, with the 10 % and 90 % points."""

    amps: Range
    volts: float

    @property
    def log_sd(self) -> float:
        """Standard deviation of ln(amps)."""
        return math.log(self.amps.high / self.amps.low) / (2.0 * TENTH)


class PlannedStrip:
    """Looks ahead at any volts from a bath that nothing flows through yet.

    Parameters
    ----------
    known
        The bath by its earlier runs, without a value of this one.
    level
        The amps at some volts with the bath as cold as it usually starts, or as it is now.
    warmth
        Kelvin that are left of an earlier run.
    level_is_now
        Whether the level holds for the bath as warm as it is now.
    limit_amps, most_amps
        Where the supply cuts out; what the part stands, None where not known.
    charge
        Ampere-hours that the part takes; None where not known.
    duty
        Share of the time with contact.

    Examples
    --------
    5 A at 9 V in 9 litres, of which the part takes 1 Ah:

    >>> known = KnownBath(10.0, 9.0, 0.0175)
    >>> level = Level(Range(4.5, 5.0, 5.5), 9.0)
    >>> strip = PlannedStrip(known, level, 0.0, True, 10.0, None, Range(0.8, 1.0, 1.2))
    >>> outlook = strip.at(9.0)
    >>> round(outlook.amps.middle, 1), round(outlook.seconds.middle / 60), outlook.trip_in_s
    (5.0, 12, None)
    """

    def __init__(
        self,
        known: KnownBath,
        level: Level,
        warmth: float,
        level_is_now: bool,
        limit_amps: float,
        most_amps: float | None,
        charge: Range | None,
        duty: float = 1.0,
    ) -> None:
        self._limit, self._most, self._charge, self._duty = limit_amps, most_amps, charge, duty
        self._sd = level.log_sd
        for _, bath in known.filters:
            bath.flow(0.0, 0.0)
            if level_is_now:
                bath.theta = warmth
            doubt = self._sd**2
            bath.update(0.0, math.log(level.amps.middle), level.volts, doubt, 1e-6, 30.0)
            bath.theta = warmth
        self._filters: Sequence[Weighed] = known.filters
        self.zero_volts = known.zero_volts

    def cooled(self, seconds: float) -> "PlannedStrip":
        """The same after so long a rest."""
        other = object.__new__(PlannedStrip)
        other.__dict__.update(self.__dict__)
        other._filters = [Weighed(weight, bath.paused(seconds)) for weight, bath in self._filters]
        return other

    def at(self, volts: float) -> Outlook:
        """What to expect at these volts; they must be well above E0."""
        until_s = self._until_s(volts)
        best = max(self._filters, key=lambda one: one.weight).bath
        course = look_ahead(best, volts, until_s, duty=self._duty)
        seconds = self._seconds(course)
        watched_s = until_s if seconds is None else seconds.middle
        chance, times = self._chance(volts, until_s)
        by_then = _at(times, chance, watched_s)
        start = math.exp(course.log_amps[0])
        sd = course.sds[0]
        spread = math.exp(TENTH * sd)
        return Outlook(
            volts=volts,
            amps=Range(start / spread, start, start * spread),
            end_amps=math.exp(_at(course.times_s, course.log_amps, watched_s)),
            seconds=seconds,
            watched_s=watched_s,
            warming=_at(course.times_s, course.thetas, watched_s) - course.thetas[0],
            chance_of_trip=by_then,
            trip_in_s=time_of(times, chance, 0.5) if by_then >= 0.5 else None,
        )

    def highest(self, lowest: float, most: float) -> float | None:
        """The highest volts, in tenths, that are likely to last to the end; None where none are."""
        for tenth in range(math.floor(most * 10.0 + 1e-6), math.ceil(lowest * 10.0 - 1e-6) - 1, -1):
            if self.will_do(tenth / 10.0):
                return tenth / 10.0
        return None

    def will_do(self, volts: float) -> bool:
        """Whether no cut-out is likely at these volts, nor a current that the part does not stand.

        >>> known = KnownBath(10.0, 9.0, 0.0175)
        >>> level = Level(Range(8.5, 9.0, 9.5), 9.0)
        >>> strip = PlannedStrip(known, level, 0.0, True, 10.0, None, None)
        >>> strip.will_do(9.0), strip.will_do(7.0)
        (False, True)
        """
        until_s = self._until_s(volts)
        chance, times = self._chance(volts, until_s)
        if _at(times, chance, FIRST_S) > MOST_FIRST:
            return False
        best = max(self._filters, key=lambda one: one.weight).bath
        course = look_ahead(best, volts, until_s, duty=self._duty)
        seconds = self._seconds(course)
        end_s = until_s if seconds is None else seconds.middle
        if _at(times, chance, end_s) > MOST_IN_ALL:
            return False
        if self._most is None:
            return True
        peaks = [x for t, x in zip(course.times_s, course.log_amps, strict=True) if t <= end_s]
        return max(peaks) <= math.log(self._most)

    def _chance(self, volts: float, until_s: float) -> tuple[list[float], list[float]]:
        """The chance of a cut-out by each time, all filters together."""
        log_limit = math.log(self._limit)
        courses = [
            (weight, look_ahead(bath, volts, until_s, duty=self._duty))
            for weight, bath in self._filters
        ]
        told = [(weight, course, chances(course, log_limit, NOISE)) for weight, course in courses]
        times = told[0][1].times_s
        mixed = [
            sum(weight * chance_at(course, chance, t_s) for weight, course, chance in told)
            for t_s in times
        ]
        return mixed, times

    def _until_s(self, volts: float) -> float:
        charge = self._charge
        if charge is None:
            return UNKNOWN_END_S
        best = max(self._filters, key=lambda one: one.weight).bath
        amps = math.exp(look_ahead(best, volts, 0.0).log_amps[0] - TENTH * self._sd)
        return min(charge.high * 3600.0 / (0.66 * amps * max(self._duty, 0.05)), LONGEST_S)

    def _seconds(self, course: Course) -> Range | None:
        """Until the charge has passed: the least of it at the most amps, and the other way."""
        charge = self._charge
        if charge is None:
            return None
        spread = math.exp(TENTH * self._sd)
        likely = course.seconds_to_pass(charge.middle)
        if likely is None:
            return None
        low = course.seconds_to_pass(charge.low / spread)
        high = course.seconds_to_pass(charge.high * spread)
        last = course.times_s[-1]
        return Range(likely if low is None else low, likely, last if high is None else high)


def _at(times: Sequence[float], values: Sequence[float], t_s: float) -> float:
    for i in range(1, len(times)):
        if times[i] >= t_s:
            span = times[i] - times[i - 1]
            share = 1.0 if span <= 0.0 else (t_s - times[i - 1]) / span
            return values[i - 1] + share * (values[i] - values[i - 1])
    return values[-1]
