"""The filter of a bath and its looks ahead, against scipy's integrator and drawn futures."""

import math
import random
from dataclasses import replace

import pytest
from scipy.integrate import solve_ivp  # type: ignore[import-untyped]  # scipy ships no types

from monitor.analysis.bath_filter import EXCHANGE, B, BathFilter, D, E, L, S
from monitor.analysis.known_bath import VALUES_KEPT, KnownBath
from monitor.analysis.look_ahead import Course, Move, Noise, chances, look_ahead
from monitor.model.bath_prior import (
    DRIFT,
    INTERCEPT,
    LOSS,
    SDS,
    STRENGTH,
    BathPrior,
    default_prior,
    next_prior,
)

LITRES, PER_KELVIN, VOLTS = 2.0, 0.0175, 7.0
PER_JOULE = EXCHANGE / (4150.0 * LITRES)
WHITE, WANDER, MEMORY_S = 4e-6, 4e-6, 20.0


def true_course(
    seconds: float, drift: float = 0.5e-4, level: float = math.log(1.6), volts: float = VOLTS
) -> list[tuple[float, float]]:
    """Amps each second of a bath by the filter's own equations, by scipy: 1.05 of warming."""
    loss = math.exp(default_prior(LITRES).means[LOSS])

    def amps(t: float, theta: float) -> float:
        grown = 1.05 * math.log(1.0 + PER_KELVIN * theta)
        return math.exp(level + drift * t + grown) * (volts - 1.8)

    def slope(t: float, state: list[float]) -> list[float]:
        return [PER_JOULE * volts * amps(t, state[0]) - loss * state[0]]

    times = [float(t) for t in range(int(seconds) + 1)]
    solved = solve_ivp(slope, (0.0, seconds), [0.0], t_eval=times, rtol=1e-8, atol=1e-10)
    return [(t, amps(t, theta)) for t, theta in zip(times, solved.y[0], strict=True)]


def follow(bath: BathFilter, course: list[tuple[float, float]], seed: int | None = None) -> None:
    """Give the filter every second, and a value every other one."""
    chance = random.Random(seed)
    wander = 0.0 if seed is None else chance.gauss(0.0, math.sqrt(WANDER))
    keep = math.exp(-1.0 / MEMORY_S)
    for t_s, amps in course:
        noise = 0.0
        if seed is not None:
            wander = keep * wander + math.sqrt((1.0 - keep * keep) * WANDER) * chance.gauss(0, 1)
            noise = wander + math.sqrt(WHITE) * chance.gauss(0.0, 1.0)
        bath.flow(t_s, VOLTS * amps)
        if int(t_s) % 2:
            bath.update(t_s, math.log(amps) + noise, VOLTS, WHITE, WANDER, MEMORY_S)


def new_filter(prior: BathPrior | None = None) -> BathFilter:
    return BathFilter(prior or default_prior(LITRES), PER_JOULE, PER_KELVIN)


def test_what_lies_ahead_is_what_an_integrator_says() -> None:
    course = true_course(1800.0)
    known = default_prior(LITRES)
    bath = new_filter(replace(known, means=(0.5e-4, *known.means[1:])))
    follow(bath, course[:300])
    ahead = look_ahead(bath, VOLTS, 1500.0)
    assert math.exp(ahead.log_amps[-1]) == pytest.approx(course[1799][1], rel=0.002)
    passed = sum(amps for _, amps in course[299:1799]) / 3600.0
    assert ahead.amp_hours[-1] == pytest.approx(passed, rel=0.002)


def test_other_volts_ahead_are_what_an_integrator_says() -> None:
    """The law goes with V (V - E0): less heat, and a smaller slope."""
    known = default_prior(LITRES)
    bath = new_filter(replace(known, means=(0.5e-4, *known.means[1:])))
    follow(bath, true_course(2.0))
    course = true_course(1500.0, volts=5.5)
    ahead = look_ahead(bath, VOLTS, 1500.0, Move(0.0, 5.5))
    assert math.exp(ahead.log_amps[-1]) == pytest.approx(course[-1][1], rel=0.003)


@pytest.mark.parametrize("state", [B, D, S, L, E])
def test_doubt_ahead_is_the_gradient_times_the_doubt_now(state: int) -> None:
    bath = new_filter()
    follow(bath, true_course(300.0))
    for i in range(6):
        for j in range(6):
            bath.covariance[i][j] = 0.0
    base = look_ahead(bath, VOLTS, 900.0, Move(300.0, 6.0))
    sd = {B: 1e-3, D: 1e-6, S: 1e-3, L: 1e-3, E: 1e-3}[state]
    bath.mean[state] += sd
    if state == L:
        bath.theta += bath.d_theta_d_loss * sd
    moved = look_ahead(bath, VOLTS, 900.0, Move(300.0, 6.0))
    bath.mean[state] -= sd
    bath.theta -= bath.d_theta_d_loss * sd if state == L else 0.0
    bath.covariance[state][state] = sd * sd
    told = look_ahead(bath, VOLTS, 900.0, Move(300.0, 6.0)).sds[-1]
    walk = 5e-13 * 900.0**3 / 3.0
    shift = moved.log_amps[-1] - base.log_amps[-1]
    assert math.sqrt(told * told - walk) == pytest.approx(abs(shift), rel=0.02)


def test_the_filter_foresees_as_well_as_it_says() -> None:
    """Of 60 baths drawn from the prior, what it says of the amps in ten minutes holds 80 %."""
    held = 0
    for seed in range(60):
        chance = random.Random(f"drift {seed}")
        course = true_course(1000.0, drift=0.3e-4 + SDS[DRIFT] * chance.gauss(0.0, 1.0))
        bath = new_filter()
        follow(bath, course[:401], seed)
        ahead = look_ahead(bath, VOLTS, 600.0)
        off = math.log(course[1000][1]) - ahead.log_amps[-1]
        held += abs(off) < 1.2816 * ahead.sds[-1]
    assert 40 <= held <= 59


def test_the_warmth_is_that_of_the_first_law() -> None:
    bath = new_filter()
    bath.flow(0.0, 0.0)
    for second in range(1, 61):
        bath.flow(float(second), 100.0)
    assert bath.theta == pytest.approx(60.0 * 100.0 * PER_JOULE, rel=0.01)
    small_steps = bath.theta
    bath.flow(4000.0, 0.0)
    loss = math.exp(bath.mean[L])
    assert bath.theta == pytest.approx(small_steps * math.exp(-loss * 3940.0), rel=1e-6)


def test_chances_are_those_of_drawn_futures() -> None:
    """A mean that rises to the limit, under an AR(1) that is looked at twice a second."""
    noise, times = Noise(0.004**2, 20.0), [10.0 * n for n in range(41)]
    rise, limit = 5e-5, 0.018
    course = Course(times, [rise * t for t in times], [0.0] * 41, times, times)
    told = chances(course, limit, noise)
    chance, keep = random.Random(7), math.exp(-0.5 / noise.memory_s)
    sd = math.sqrt(noise.variance)
    reached = [0] * 41
    for _ in range(800):
        wander = chance.gauss(0.0, sd)
        for n in range(800):
            wander = keep * wander + sd * math.sqrt(1 - keep * keep) * chance.gauss(0.0, 1.0)
            if wander + rise * 0.5 * n > limit:
                for i in range(math.ceil(0.5 * n / 10.0), 41):
                    reached[i] += 1
                break
    for i in (10, 20, 30):
        assert told[i] == pytest.approx(reached[i] / 800.0, abs=0.1)
    assert told == sorted(told)


def test_a_prior_for_the_next_run_is_never_less_sure_than_the_default() -> None:
    default = default_prior(LITRES)
    narrow = BathPrior(
        (1e-4, 1.2, default.means[LOSS], 0.1), tuple(1e-3 * c for c in default.covariances)
    )
    after = next_prior(narrow, default)
    assert after.means == narrow.means
    assert narrow.sd(DRIFT) < after.sd(DRIFT) < default.sd(DRIFT)
    assert next_prior(default, default).sd(STRENGTH) == pytest.approx(default.sd(STRENGTH))


@pytest.mark.parametrize(
    "spoilt",
    [
        BathPrior((), ()),
        BathPrior((math.nan, 1.0, -9.0, 0.0), default_prior(1.0).covariances),
        BathPrior(default_prior(1.0).means, (0.0,) * 10),
        BathPrior(default_prior(1.0).means, (1e-9, 1.0, *default_prior(1.0).covariances[2:])),
    ],
)
def test_a_prior_that_is_none_is_not_taken(spoilt: BathPrior) -> None:
    known = KnownBath(10.0, LITRES, PER_KELVIN)
    known.know(spoilt)
    assert not known.has_history
    assert len(known.filters) == 1


def test_earlier_runs_that_are_wrong_lose_their_weight() -> None:
    default = default_prior(LITRES)
    sure = tuple(c / 100.0 for c in default.covariances)
    for drift, is_kept in ((0.5e-4, True), (8e-4, False)):
        known = KnownBath(10.0, LITRES, PER_KELVIN)
        known.know(BathPrior((drift, *default.means[1:]), sure))
        for t_s, amps in true_course(300.0):
            known.flow(t_s, VOLTS * amps)
            if int(t_s) % 2:
                known.update(t_s, math.log(amps), VOLTS, WHITE, WANDER, MEMORY_S)
        assert (known.filters[0].weight > 0.5 and len(known.filters) == 1) or is_kept
        assert sum(one.weight for one in known.filters) == pytest.approx(1.0)


def test_a_prior_that_comes_late_counts_from_the_beginning() -> None:
    prior = next_prior(default_prior(LITRES), default_prior(LITRES))
    early, late = (KnownBath(10.0, LITRES, PER_KELVIN) for _ in range(2))
    early.know(prior)
    for t_s, amps in true_course(100.0):
        for known in (early, late):
            known.flow(t_s, VOLTS * amps)
            if int(t_s) % 2:
                known.update(t_s, math.log(amps), VOLTS, WHITE, WANDER, MEMORY_S)
        if t_s == 60.0:
            late.know(prior)
    first, second = early.filters[0].bath, late.filters[0].bath
    assert second.mean == pytest.approx(first.mean, rel=0.02, abs=2e-5)
    for n in range(VALUES_KEPT + 1):
        late.update(200.0 + n, math.log(8.0), VOLTS, WHITE, WANDER, MEMORY_S)
    fresh = KnownBath(10.0, LITRES, PER_KELVIN)
    for n in range(VALUES_KEPT + 1):
        fresh.update(float(n), math.log(8.0), VOLTS, WHITE, WANDER, MEMORY_S)
    fresh.know(prior)
    assert not fresh.has_history


def test_what_the_volts_teach_is_the_intercept() -> None:
    bath = new_filter()
    for n, volts in enumerate([7.0] * 30 + [5.0] * 30):
        amps = 0.9 * (volts - 2.1)
        bath.flow(2.0 * n, volts * amps)
        bath.update(2.0 * n, math.log(amps), volts, WHITE, WANDER, MEMORY_S)
    assert bath.learned.means[INTERCEPT] == pytest.approx(0.3, abs=0.08)
