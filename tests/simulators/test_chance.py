"""Slow noise and the operator's hand: seeded, with the spread and the habits asked for."""

import itertools
import random
import statistics

import pytest

from simulators.rig import Wander
from simulators.swab import Strokes, Swab


def wandered(dt_s: float, steps: int, seed: str = "a") -> list[float]:
    wander = Wander(0.01, 10.0, dt_s, random.Random(seed))
    return [wander.step() for _ in range(steps)]


@pytest.mark.parametrize("dt_s", [0.05, 1.0])
def test_neither_spread_nor_memory_depends_on_the_step(dt_s: float) -> None:
    values = wandered(dt_s, round(20000.0 / dt_s))
    assert statistics.pstdev(values) == pytest.approx(0.01, rel=0.1)
    lag = round(10.0 / dt_s)  # one correlation time: exp(-1) of the variance is left
    products = [a * b for a, b in zip(values, values[lag:], strict=False)]
    assert statistics.fmean(products) / 0.0001 == pytest.approx(0.368, abs=0.1)


def test_the_same_seed_wanders_the_same_way_and_another_does_not() -> None:
    assert wandered(0.05, 50) == wandered(0.05, 50)
    assert wandered(0.05, 50) != wandered(0.05, 50, seed="b")


def contacts(swab: Swab, seconds: float, seed: str = "a") -> list[float]:
    strokes = Strokes(swab, 0.05, random.Random(seed))
    return [strokes.step() for _ in range(round(seconds / 0.05))]


def test_contact_comes_and_goes_between_none_and_full() -> None:
    values = contacts(Swab(), 3600.0)
    assert 0.0 <= min(values) < 0.001
    assert 0.99 < max(values) <= 1.0


def test_the_swab_is_lifted_as_often_and_as_long_as_the_operator_is_said_to() -> None:
    values = contacts(Swab(lift_every_s=40.0, lift_s=4.0, stroke_s=2.0), 7200.0)
    lifted = [value < 0.3 for value in values]
    lifts = sum(now and not before for before, now in itertools.pairwise(lifted))
    assert 7200.0 / lifts == pytest.approx(45.0, rel=0.15)
    assert sum(lifted) * 0.05 / lifts == pytest.approx(4.0, rel=0.15)


def test_on_the_work_the_contact_is_never_worse_than_the_operators_worst_stroke() -> None:
    values = contacts(Swab(lift_every_s=3600.0, least_contact=0.8), 600.0)
    assert min(values[100:]) >= 0.8


def test_the_same_seed_wipes_the_same_way_and_another_does_not() -> None:
    assert contacts(Swab(), 60.0) == contacts(Swab(), 60.0)
    assert contacts(Swab(), 60.0) != contacts(Swab(), 60.0, seed="b")
