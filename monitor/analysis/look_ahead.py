"""A bath as it is known, and the volts that are to come, in; the amps and when they reach a limit.

The mean course and its doubt come from one integration with sensitivities; the chance that a peak
of the wander reaches the limit is that of `Crossing`, along a curved mean.
"""

import math
from typing import NamedTuple

from monitor.analysis.bath_filter import DRIFT_WALK, B, BathFilter, D, E, L, S
from monitor.analysis.crossing import BETWEEN_LOOKS, NODES, WEIGHTS, escape

SHORTEST_STEP_S, LONGEST_STEP_S = 10.0, 320.0
GROWTH = 1.18
"""Steps grow by so much: 47 of them reach two hours ahead."""
SHORTEST_PEAK_S = 0.5
MOST_LOG_AMPS = 20.0
_NODES = tuple(zip(WEIGHTS, NODES, strict=True))
_ROOT_HALF = math.sqrt(0.5)
CERTAIN_SD = -4.0
"""A mean so far over the limit has passed it."""
SWAB_DUTY = 0.8
"""Share of the power of a swab before its own is known."""


class Noise(NamedTuple):
    """The wander about the mean: its variance, and its memory in seconds."""

    variance: float
    memory_s: float


class Move(NamedTuple):
    """The volts are turned to others, so many seconds from now."""

    in_s: float
    volts: float


class Course(NamedTuple):
    """What is to come, at times from now on.

    Parameters
    ----------
    times_s
        Seconds from now; the first is 0.
    log_amps, sds
        Mean of ln(amps) without the wander, and its standard deviation.
    amp_hours
        That pass until then, along the mean.
    thetas
        Kelvin over the start.
    """

    times_s: list[float]
    log_amps: list[float]
    sds: list[float]
    amp_hours: list[float]
    thetas: list[float]

    def seconds_to_pass(self, amp_hours: float) -> float | None:
        """Seconds until so much charge has passed; None beyond what was looked at."""
        passed, times = self.amp_hours, self.times_s
        for i in range(1, len(times)):
            if passed[i] >= amp_hours:
                share = (amp_hours - passed[i - 1]) / max(passed[i] - passed[i - 1], 1e-12)
                return times[i - 1] + max(share, 0.0) * (times[i] - times[i - 1])
        return None


def look_ahead(
    bath: BathFilter, volts: float, until_s: float, move: Move | None = None, duty: float = 1.0
) -> Course:
    """The amps to come at these volts, or with one move of the volts on the way.

    Parameters
    ----------
    bath
        As it is known now, at its last sample.
    volts
        As they are, well above E0.
    until_s
        How far to look.
    move
        To other volts, at once or later.
    duty
        Share of the power at these amps that does flow: a swab is lifted, and slides.

    Examples
    --------
    >>> from monitor.model.bath_prior import default_prior
    >>> bath = BathFilter(default_prior(9.0), 0.9 / (4150.0 * 9.0), 0.0175)
    >>> for second in range(120):
    ...     bath.flow(float(second), 35.0)
    ...     surprise = bath.update(float(second), math.log(5.0), 7.0, 1e-6, 1e-6, 30.0)
    >>> course = look_ahead(bath, 7.0, 600.0, Move(60.0, 6.0))
    >>> place = course.times_s.index(60.0)
    >>> round(math.exp(course.log_amps[0]), 1), round(math.exp(course.log_amps[place + 1]), 1)
    (5.0, 4.0)
    """
    mean = bath.mean
    drift, strength = mean[D], mean[S]
    loss = math.exp(mean[L])
    a, c = bath.per_kelvin, bath.kelvin_per_joule * duty
    p = bath.covariance
    theta = bath.theta
    by_b, by_d, by_s, by_l, by_e = 0.0, 0.0, 0.0, bath.d_theta_d_loss, 0.0
    above = volts - bath.zero_volts
    move_s = math.inf if move is None else move.in_s
    if move is not None and move_s <= 0.0:
        volts, above, move_s = move.volts, move.volts - bath.zero_volts, math.inf
    times: list[float] = []
    log_amps: list[float] = []
    sds: list[float] = []
    charges: list[float] = []
    thetas: list[float] = []
    t, charge, step = 0.0, 0.0, SHORTEST_STEP_S
    last_amps = 0.0
    while True:
        warmth = max(1.0 + a * theta, 0.05)
        lead = strength * a / warmth
        bend = math.log(warmth)
        x = mean[B] + drift * t + strength * bend - mean[E] / above + math.log(above)
        # d x / d (b, d, s, l, e)
        xb, xd, xs = 1.0 + lead * by_b, t + lead * by_d, bend + lead * by_s
        xl, xe = lead * by_l, lead * by_e - 1.0 / above
        pb, pd, ps, pl, pe = p[B], p[D], p[S], p[L], p[E]
        variance = (
            xb * (xb * pb[B] + 2.0 * (xd * pb[D] + xs * pb[S] + xl * pb[L] + xe * pb[E]))
            + xd * (xd * pd[D] + 2.0 * (xs * pd[S] + xl * pd[L] + xe * pd[E]))
            + xs * (xs * ps[S] + 2.0 * (xl * ps[L] + xe * ps[E]))
            + xl * (xl * pl[L] + 2.0 * xe * pl[E])
            + xe * xe * pe[E]
            + DRIFT_WALK * t * t * t / 3.0
        )
        amps = math.exp(min(x, MOST_LOG_AMPS))
        if times:
            charge += 0.5 * (amps + last_amps) * (t - times[-1]) * duty / 3600.0
        times.append(t)
        log_amps.append(x)
        sds.append(math.sqrt(max(variance, 0.0)))
        charges.append(charge)
        thetas.append(theta)
        last_amps = amps
        if t >= until_s:
            return Course(times, log_amps, sds, charges, thetas)
        if t >= move_s and move is not None:
            # The same moment again, at the other volts.
            volts, move_s, step = move.volts, math.inf, SHORTEST_STEP_S
            above = volts - bath.zero_volts
            continue
        span = min(step, until_s - t, move_s - t)
        step = min(step * GROWTH, LONGEST_STEP_S)
        keep = math.exp(-loss * span)
        grow = (1.0 - keep) / loss
        heat = c * volts * amps
        first = theta * keep + heat * grow
        # Once more with the mean of the heat now and then.
        then = math.log(max(1.0 + a * first, 0.05))
        more = math.exp(min(drift * span + strength * (then - bend), 3.0))
        heat *= 0.5 * (1.0 + more)
        by_b = by_b * keep + heat * grow * xb
        by_d = by_d * keep + heat * grow * (xd + 0.5 * span)
        by_s = by_s * keep + heat * grow * xs
        by_e = by_e * keep + heat * grow * xe
        after = theta * keep + heat * grow
        by_l = by_l * keep + heat * grow * xl - loss * 0.5 * (theta + after) * grow
        theta = after
        t += span


def chances(course: Course, log_limit: float, noise: Noise, from_s: float = 0.0) -> list[float]:
    """The chance, by each of the course's times, that the limit has been reached since `from_s`.

    Parameters
    ----------
    log_limit
        ln of the limit's amps.
    from_s
        Nothing counts before it: it did not happen.

    Examples
    --------
    A mean that stays 2 % under the limit, with 0.5 % of wander of 30 s memory, for an hour:

    >>> times = [10.0 * n for n in range(361)]
    >>> flat = Course(times, [0.0] * 361, [0.0] * 361, times, times)
    >>> told = chances(flat, 0.02, Noise(0.005**2, 30.0))
    >>> 0.005 < told[-1] < 0.1
    True
    """
    sd = math.sqrt(noise.variance)
    higher = min(BETWEEN_LOOKS * math.sqrt(2.0 * SHORTEST_PEAK_S / noise.memory_s), 1.0)
    times, means, sds = course.times_s, course.log_amps, course.sds
    total = [0.0] * len(times)
    begin = 0
    while begin < len(times) - 1 and times[begin] < from_s:
        begin += 1
    if from_s > 0.0 and begin + 1 < len(times) and times[begin + 1] == times[begin]:
        begin += 1
    for weight, z in _NODES:
        level = (log_limit - means[begin] - z * sds[begin]) / sd
        last = escape(level + higher)
        hazard, reached = 0.0, 0.0
        for i in range(begin, len(times)):
            now = (log_limit - means[i] - z * sds[i]) / sd
            if i > begin:
                here = escape(now + higher)
                moved = level - now
                span = (times[i] - times[i - 1]) / noise.memory_s
                if span > 0.0:
                    if -0.01 < moved < 0.01:
                        rate = 10.0 * (escape(now + higher - 0.05) - escape(now + higher + 0.05))
                    else:
                        rate = (here - last) / moved
                    hazard += rate * span
                level, last = now, here
            if now < CERTAIN_SD:
                reached = 1.0
            elif reached < 1.0:
                reached = max(reached, 1.0 - math.exp(-hazard))
                if now < 2.0:
                    reached = max(reached, 0.5 * math.erfc(now * _ROOT_HALF))
            total[i] += weight * reached
    return total


def chance_at(course: Course, chance: list[float], t_s: float) -> float:
    """The chance by some time, between the course's own times."""
    times = course.times_s
    for i in range(1, len(times)):
        if times[i] >= t_s:
            span = times[i] - times[i - 1]
            share = 1.0 if span <= 0.0 else (t_s - times[i - 1]) / span
            return chance[i - 1] + share * (chance[i] - chance[i - 1])
    return chance[-1]


def time_of(times_s: list[float], chance: list[float], wanted: float) -> float | None:
    """When the chance comes to what is wanted; None where it does not.

    >>> time_of([0.0, 10.0, 20.0], [0.0, 0.4, 0.8], 0.5)
    12.5
    """
    for i in range(1, len(times_s)):
        if chance[i] >= wanted:
            rise = chance[i] - chance[i - 1]
            share = 0.0 if rise <= 0.0 else (wanted - chance[i - 1]) / rise
            return times_s[i - 1] + max(share, 0.0) * (times_s[i] - times_s[i - 1])
    return None
