"""Noise told apart on made-up series with known variances."""

import math
from random import Random

import pytest

from monitor.analysis.noise import Noise


def learn(white_sd: float, wander_sd: float, memory_s: float, slope: float, n: int = 3000) -> Noise:
    draw = Random(11)
    noise = Noise(1.0, 1e-6, 1e-6, 20.0)
    keep = math.exp(-1.0 / memory_s)
    slow = 0.0
    for i in range(n):
        slow = keep * slow + wander_sd * math.sqrt(1 - keep * keep) * draw.gauss(0.0, 1.0)
        noise.update(i, slope * i + slow + white_sd * draw.gauss(0.0, 1.0))
    return noise


def test_white_noise_is_found_to_be_white() -> None:
    noise = learn(0.01, 0.0, 20.0, 0.0)
    assert math.sqrt(noise.white + noise.wander) == pytest.approx(0.01, rel=0.15)
    assert noise.wander < 0.5 * noise.white


@pytest.mark.parametrize("slope", [0.0, 0.01, -1.0])
def test_wander_is_found_whatever_the_drift(slope: float) -> None:
    noise = learn(0.001, 0.006, 24.0, slope)
    assert math.sqrt(noise.wander) == pytest.approx(0.006, rel=0.3)
    assert 10.0 < noise.memory_s < 60.0
    assert noise.white < 0.002**2


def test_no_difference_is_taken_across_a_new_stretch() -> None:
    def after_a_jump_of(jump: float) -> float:
        noise = learn(0.001, 0.0, 20.0, 0.0, n=200)
        noise.forget_values()
        draw = Random(5)
        for i in range(200, 400):
            noise.update(i, jump + draw.gauss(0.0, 0.001))
        return noise.white + noise.wander

    assert after_a_jump_of(50.0) == pytest.approx(after_a_jump_of(0.0), rel=1e-6)
