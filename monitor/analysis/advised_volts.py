"""A known bath, its volts and what bounds them, in; the volts to turn down to, and by when, out.

Looked at every ten seconds. Where a trip within the operator's way is likely enough, the highest
volts are sought at which a later trip is not; the move is told with the time at which it is due, so
that it is not made sooner than it must.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from monitor.analysis.bath_filter import CELL_VOLTS, BathFilter
from monitor.analysis.known_bath import KnownBath, Weighed
from monitor.analysis.look_ahead import (
    Course,
    Move,
    Noise,
    chance_at,
    chances,
    look_ahead,
    time_of,
)

LOOK_EVERY_S = 10.0
FIRST_LOOK_S, FIRST_LOOK_UNKNOWN_S = 40.0, 120.0
"""Of current, before the first look; and where neither litres nor earlier runs are known."""
LEAD_S = 330.0
"""A trip within so long is looked for: time for a way of four minutes, and for a late word."""
AFTER_WAY_S = 60.0
"""What is added to a longer way."""
TELL_EARLY_ABOVE, EARLY_S = 0.3, 100.0
TELL_ABOVE, LOOKS = 0.10, 2
"""In so many looks in a row. What is known of a bath changes fast in its first minutes: then it
must be likelier."""
DROP_BELOW, DROP_AFTER_S = 0.02, 60.0
"""It is withdrawn where the chance has stayed under this for so long."""
MOST_LATER, MOST_LATER_ELSE = 0.08, 0.25
"""Chance of a trip after the move, before the strip is likely finished; and where no volts are as
good, while the bath is not well known."""
DUE_CHANCE, DUE_BEFORE_S = 0.05, 50.0
"""The move is due so long before the chance of a trip has grown to this."""
RENEW_S, RENEW_NEAR_S, NEAR_S = 60.0, 20.0, 120.0
"""How often the number is reckoned anew, and how often where the move is due as soon as that."""
SETTLE_S = 30.0
"""After a change of the volts."""
UNKNOWN_ENDS_S = (400.0, 800.0, 1600.0)
"""How long the volts must do where the end is not known: at the first, second, third move."""
END_SHARES = ((0.85, 0.25), (1.0, 0.5), (1.15, 0.25))
"""Of the charge that is told, and their weights."""
SPLIT_VOLTS, SPLIT_LEAST_S = 0.3, 400.0
"""A cut that is deeper is made in two: the first for half of the charge left, at least so long."""
LEAST_SHARE = 0.6
"""Of the limit's amps: no deeper cut at once."""
LEAST_ABOVE = 0.7
"""Volts a cell above E0 that nobody is asked to go under."""
PAUSES_S = (120.0, 300.0, 600.0, 900.0, 1200.0, 1800.0, 2700.0, 3600.0)
AFTER_PAUSE = 0.10
MOVED_VOLTS, SET_VOLTS = 0.08, 0.06
LONGEST_S = 7200.0


class Bounds(NamedTuple):
    """What holds the advice.

    Parameters
    ----------
    limit_amps
        Where the supply cuts out.
    lowest_volts
        Of the step's window; None without one.
    most_amps
        By the density that the part stands; None where not known.
    """

    limit_amps: float
    lowest_volts: float | None = None
    most_amps: float | None = None


class Advised(NamedTuple):
    """See `VoltsAdvice`; `due_s` is a time of the run."""

    volts: float
    due_s: float
    finish_s: float | None
    holds_for_s: float | None
    pause_s: float = 0.0


class _Now(NamedTuple):
    """What one look goes by."""

    filters: Sequence[Weighed]
    volts: float
    noise: Noise
    duty: float
    bounds: Bounds
    hours_left: float | None


class AdvisedVolts:
    """Decides when to advise which volts, for one run.

    Parameters
    ----------
    reaction_s
        The way of the operator.
    """

    def __init__(self, reaction_s: float = 0.0) -> None:
        self.lead_s = LEAD_S
        self.look_so_far(reaction_s)
        self.standing: Advised | None = None
        self._looks = 0
        self._likely_s = -math.inf
        self._looked_s = -math.inf
        self._renewed_s = -math.inf
        self._volts: float | None = None
        self._moved_s = -math.inf
        self._moves = 0
        self.was_followed = False
        """Whether the last advice ended since the volts were turned down."""
        self._on_s: float | None = None

    def look_so_far(self, reaction_s: float) -> None:
        """Take another way of the operator."""
        self.lead_s = max(LEAD_S, reaction_s + AFTER_WAY_S)

    def restart(self) -> None:
        """The output is off: what was advised stands no more."""
        self.standing, self.was_followed = None, False
        self._on_s = None

    def note_setting(self, t_s: float, volts: float) -> None:
        """Take the volts of any reading: whether they are those advised is seen at once."""
        standing = self.standing
        if standing is None or self._volts is None or volts > standing.volts + SET_VOLTS:
            return
        if volts < self._volts - SET_VOLTS:
            self._follow(t_s, volts)

    def update(
        self,
        t_s: float,
        known: KnownBath,
        volts: float,
        noise: Noise,
        duty: float,
        bounds: Bounds,
        hours_left: float | None,
    ) -> Advised | None:
        """Look again where it is time to; what stands now.

        Parameters
        ----------
        hours_left
            Ampere-hours until the strip is likely finished; None where that is not known.
        """
        self._on_s = t_s if self._on_s is None else self._on_s
        self._note_volts(t_s, volts)
        is_known = known.knows_litres or known.has_history
        first_s = self._on_s + (FIRST_LOOK_S if is_known else FIRST_LOOK_UNKNOWN_S)
        waits = t_s - self._moved_s < SETTLE_S or t_s < first_s
        if waits or t_s - self._looked_s < LOOK_EVERY_S - 0.1:
            return self.standing
        self._looked_s = t_s
        now = _Now(known.filters, volts, noise, duty, bounds, hours_left)
        self._look(t_s, now)
        return self.standing

    def _note_volts(self, t_s: float, volts: float) -> None:
        before = self._volts
        if before is None:
            self._volts = volts
            return
        moved = volts - before
        if abs(moved) < MOVED_VOLTS:
            self._volts = before + 0.1 * moved
            return
        self._follow(t_s, volts)

    def _follow(self, t_s: float, volts: float) -> None:
        if self.standing is not None and volts < (self._volts or 0.0):
            self._moves += 1
            self.was_followed = True
        self._volts, self._moved_s, self.standing = volts, t_s, None

    def _look(self, t_s: float, now: _Now) -> None:
        log_limit = math.log(now.bounds.limit_amps)
        until_s = self.lead_s + DUE_BEFORE_S
        curves: list[tuple[float, Course, list[float]]] = []
        for weight, bath in now.filters:
            course = look_ahead(bath, now.volts, until_s, duty=now.duty)
            curves.append((weight, course, chances(course, log_limit, now.noise)))
        soon_s = self.lead_s
        if now.hours_left is not None:
            ends = [course.seconds_to_pass(1.15 * now.hours_left) for _, course, _ in curves]
            soon_s = min([soon_s, *(end for end in ends if end is not None)])
        soon = sum(weight * chance_at(course, chance, soon_s) for weight, course, chance in curves)
        if soon >= DROP_BELOW:
            self._likely_s = t_s
        if self.standing is None:
            is_early = self._on_s is not None and t_s - self._on_s < EARLY_S
            likely = soon >= (TELL_EARLY_ABOVE if is_early else TELL_ABOVE)
            self._looks = self._looks + 1 if likely else 0
            if self._looks < LOOKS:
                return
        elif soon < DROP_BELOW and t_s - self._likely_s >= DROP_AFTER_S:
            self.standing, self.was_followed = None, False
            return
        else:
            is_near = self.standing.due_s - t_s < NEAR_S
            if t_s - self._renewed_s < (RENEW_NEAR_S if is_near else RENEW_S) - 0.1:
                return
        self._renewed_s = t_s
        times = curves[0][1].times_s
        mixed = [
            sum(weight * chance_at(course, chance, time) for weight, course, chance in curves)
            for time in times
        ]
        reached_s = time_of(times, mixed, DUE_CHANCE)
        due_in_s = 0.0 if reached_s is None else max(reached_s - DUE_BEFORE_S, 0.0)
        if reached_s is None:
            due_in_s = until_s - DUE_BEFORE_S
        self.standing = self._seek(t_s, due_in_s, now)

    def _seek(self, t_s: float, due_in_s: float, now: _Now) -> Advised | None:
        lowest, is_window = self._lowest(now)
        most = math.ceil(now.volts * 10.0 - 1.0 - 1e-6) / 10.0
        if most < lowest:
            return self._pause(t_s, due_in_s, lowest, now) if is_window else None
        end_s = UNKNOWN_ENDS_S[min(self._moves, len(UNKNOWN_ENDS_S) - 1)]
        hours_left = now.hours_left
        volts = self._highest(lowest, most, due_in_s, end_s, hours_left, now)
        if volts is None and is_window:
            return self._pause(t_s, due_in_s, lowest, now)
        if volts is None:
            volts = self._highest(lowest, most, due_in_s, end_s, hours_left, now, MOST_LATER_ELSE)
            return Advised(lowest if volts is None else volts, t_s + due_in_s, None, 0.0)
        if hours_left is not None and now.volts - volts >= SPLIT_VOLTS:
            amps = _amps_now(now.filters[0].bath, now.volts)
            half = max(0.5 * hours_left, SPLIT_LEAST_S * amps / 3600.0)
            if half < hours_left:
                first = self._highest(volts, most, due_in_s, end_s, half, now)
                volts = volts if first is None else first
        finish_s = None
        if hours_left is not None:
            finish_s = self._finish_in(volts, due_in_s, hours_left, now)
        return Advised(volts, t_s + due_in_s, finish_s, end_s if hours_left is None else None)

    def _lowest(self, now: _Now) -> tuple[float, bool]:
        """The lowest volts that may be advised, in tenths; whether the step's window says so."""
        bath = now.filters[0].bath
        zero, cells = bath.zero_volts, bath.zero_volts / CELL_VOLTS
        amps = _amps_now(bath, now.volts)
        least = zero + (now.volts - zero) * min(LEAST_SHARE * now.bounds.limit_amps / amps, 1.0)
        least = max(least, zero + LEAST_ABOVE * cells)
        window = now.bounds.lowest_volts or 0.0
        return math.ceil(max(least, window) * 10.0 - 1e-6) / 10.0, window >= least

    def _highest(
        self,
        lowest: float,
        most: float,
        due_in_s: float,
        end_s: float,
        hours_left: float | None,
        now: _Now,
        most_later: float = MOST_LATER,
    ) -> float | None:
        """The highest volts, in tenths, that will do; None where not even the lowest will."""
        low, high = 0, round((most - lowest) * 10.0)

        def will_do(volts: float) -> bool:
            return self._later(volts, due_in_s, end_s, hours_left, now) <= most_later

        if not will_do(lowest):
            return None
        while low < high:
            middle = (low + high + 1) // 2
            volts = round(lowest + middle / 10.0, 1)
            if will_do(volts):
                low = middle
            else:
                high = middle - 1
        return round(lowest + low / 10.0, 1)

    def _later(
        self, volts: float, due_in_s: float, end_s: float, hours_left: float | None, now: _Now
    ) -> float:
        """Chance of a trip between the move and the end; over 1 where the density is passed."""
        log_limit = math.log(now.bounds.limit_amps)
        total = 0.0
        for weight, bath in now.filters:
            until_s = due_in_s + end_s
            if hours_left is not None:
                until_s = due_in_s + _longest_s(bath, volts, now, hours_left)
            course = look_ahead(bath, now.volts, until_s, Move(due_in_s, volts), now.duty)
            if _is_too_dense(course, due_in_s, now.bounds.most_amps):
                return 2.0
            chance = chances(course, log_limit, now.noise, due_in_s)
            if hours_left is None:
                total += weight * chance[-1]
                continue
            for share, part in END_SHARES:
                passed_s = course.seconds_to_pass(share * hours_left)
                reached = chance[-1] if passed_s is None else chance_at(course, chance, passed_s)
                total += weight * part * reached
        return total

    def _finish_in(
        self, volts: float, due_in_s: float, hours_left: float, now: _Now
    ) -> float | None:
        total = 0.0
        for weight, bath in now.filters:
            until_s = due_in_s + _longest_s(bath, volts, now, hours_left)
            course = look_ahead(bath, now.volts, until_s, Move(due_in_s, volts), now.duty)
            passed_s = course.seconds_to_pass(hours_left)
            if passed_s is None:
                return None
            total += weight * passed_s
        return total

    def _pause(self, t_s: float, due_in_s: float, lowest: float, now: _Now) -> Advised | None:
        """Not even the lowest volts will do: let it cool first, as long as that takes."""
        volts = min(lowest, math.floor(now.volts * 10.0 + 1e-6) / 10.0)
        end_s, left = UNKNOWN_ENDS_S[0], now.hours_left
        # To the end; else for half of what is left, or some minutes, and then another pause.
        ends = (None,) if left is None else (left, 0.5 * left, None)
        likely_s: float | None = None
        for hours_left in ends:
            for pause_s in PAUSES_S:
                filters = [
                    Weighed(weight, rested(bath, due_in_s, pause_s, now.volts, now.duty))
                    for weight, bath in now.filters
                ]
                cooled = now._replace(filters=filters, volts=volts)
                later = self._later(volts, 0.0, end_s, hours_left, cooled)
                if later <= AFTER_PAUSE:
                    return Advised(volts, t_s + due_in_s, None, None, pause_s)
                if later <= MOST_LATER_ELSE and likely_s is None:
                    likely_s = pause_s
        if likely_s is not None:
            return Advised(volts, t_s + due_in_s, None, None, likely_s)
        # Cooling does not help: what there is of room in the window buys some time.
        if volts > now.volts - 0.05:
            return None
        return Advised(volts, t_s + due_in_s, None, 0.0)


def rested(
    bath: BathFilter, due_in_s: float, pause_s: float, volts: float, duty: float
) -> BathFilter:
    """The bath after a pause that begins when the move is due: until then it still warms."""
    cooled = bath.paused(pause_s)
    due_theta = look_ahead(bath, volts, due_in_s, duty=duty).thetas[-1]
    if bath.theta > 0.0:
        cooled.theta *= due_theta / bath.theta
    return cooled


def _amps_now(bath: BathFilter, volts: float) -> float:
    return math.exp(look_ahead(bath, volts, 0.0).log_amps[0])


def _longest_s(bath: BathFilter, volts: float, now: _Now, hours_left: float) -> float:
    """Seconds in which the charge passes also where the amps sink by a third."""
    amps = 0.66 * _amps_now(bath, volts) * max(now.duty, 0.05)
    return min(END_SHARES[-1][0] * hours_left * 3600.0 / amps, LONGEST_S)


def _is_too_dense(course: Course, from_s: float, most_amps: float | None) -> bool:
    if most_amps is None:
        return False
    most = math.log(most_amps)
    return any(x > most for t, x in zip(course.times_s, course.log_amps, strict=True) if t > from_s)
