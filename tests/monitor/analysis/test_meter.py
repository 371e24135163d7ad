"""Meters that stand still, and meters too coarse for the job."""

import random

import pytest

from monitor.analysis.meter import Meter


def wandering(seconds: int, step: float, share: float = 0.003) -> list[tuple[float, float]]:
    """Volts and amps of a bath at 7 V and 5 A, by a meter of such steps, once a second."""
    chance = random.Random(5)
    return [
        (
            round(round((7.0 + chance.gauss(0.0, 0.002)) / step) * step, 6),
            round(round(5.0 * (1.0 + chance.gauss(0.0, share)) / step) * step, 6),
        )
        for _ in range(seconds)
    ]


def frozen_s(readings: list[tuple[float, float]], flows: bool = True) -> float | None:
    """When a meter is said to be frozen."""
    meter = Meter(1.0)
    for second, (volts, amps) in enumerate(readings):
        meter.update(float(second), volts, amps, flows)
        if meter.is_frozen:
            return float(second)
    return None


@pytest.mark.parametrize("step", [0.001, 0.01])
def test_a_value_that_wandered_and_stands_for_two_minutes_is_frozen(step: float) -> None:
    readings = wandering(60, step)
    assert frozen_s(readings + readings[-1:] * 150) == 59.0 + 120.0


def test_a_frozen_value_that_moves_again_is_frozen_no_more() -> None:
    readings = wandering(60, 0.001)
    meter = Meter(1.0)
    for second, (volts, amps) in enumerate(readings + readings[-1:] * 150):
        meter.update(float(second), volts, amps, flows=True)
    assert meter.is_frozen
    meter.update(210.0, 7.001, 5.001, flows=True)
    assert not meter.is_frozen


def test_a_coarse_meter_on_a_quiet_bath_is_not_frozen() -> None:
    flickers = [(7.0, 5.0), (7.0, 5.1)] * 20
    assert frozen_s(flickers + [(7.0, 5.1)] * 600) is None
    assert frozen_s([(7.0, 5.0)] * 600) is None


def test_values_of_a_ramp_are_no_wandering() -> None:
    ramp = [(6.0 + 0.01 * n, 4.0 + 0.01 * n) for n in range(100)]
    assert frozen_s(ramp + ramp[-1:] * 300) is None


def test_a_meter_that_had_stood_for_long_before_needs_longer() -> None:
    readings = [one for one in wandering(12, 0.001) for _ in range(40)]
    assert frozen_s(readings + readings[-1:] * 300) is None


def test_nothing_is_frozen_without_current() -> None:
    readings = wandering(60, 0.001)
    assert frozen_s(readings + readings[-1:] * 300, flows=False) is None


@pytest.mark.parametrize(
    ("amps", "step", "least_rise"),
    [(1.0, 0.1, 0.2), (5.0, 0.1, None), (0.3, 0.02, 0.04), (1.0, 0.01, None)],
)
def test_a_meter_is_too_coarse_where_a_step_hides_the_end(
    amps: float, step: float, least_rise: float | None
) -> None:
    # The end takes 4.5 % and more of the amps (see FinishWatch): a step must be less.
    meter, chance = Meter(1.0), random.Random(2)
    for second in range(40):
        shown = round(round(amps * (1.0 + chance.gauss(0.0, 0.05)) / step) * step, 6)
        meter.update(float(second), 7.0, shown, flows=True)
        if second < 30:
            assert meter.least_rise_amps is None
    assert meter.least_rise_amps == (None if least_rise is None else pytest.approx(least_rise))


def test_a_meter_that_never_moves_is_judged_by_its_decimals() -> None:
    meter = Meter(1.0)
    for second in range(40):
        meter.update(float(second), 7.0, 1.2, flows=True)
    assert meter.least_rise_amps == pytest.approx(0.2)
