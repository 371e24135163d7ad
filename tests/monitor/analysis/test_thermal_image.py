"""The thermal image against the closed form of IEC 60255-149."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.analysis.thermal_image import ThermalImage

# t / tau with k Ib = 1 by t = tau ln((I^2 - Ip^2) / (I^2 - (k Ib)^2)), IEC 60255-149:2013; cold
# is Ip = 0, hot here Ip = 0.9. Computed from the equation.
COLD_AND_HOT = [
    (1.1, 1.75127, 0.64436),
    (1.2, 1.18562, 0.35895),
    (1.5, 0.58779, 0.14150),
    (2.0, 0.28768, 0.06141),
    (3.0, 0.11778, 0.02347),
    (6.0, 0.02817, 0.00541),
]


@pytest.mark.parametrize(("amps", "cold", "hot"), COLD_AND_HOT)
def test_it_operates_when_the_standard_says(amps: float, cold: float, hot: float) -> None:
    image = ThermalImage(1.0, 1.0)
    assert image.operates_in_s(amps) == pytest.approx(cold, abs=1e-5)
    image.theta = 0.81
    assert image.operates_in_s(amps) == pytest.approx(hot, abs=1e-5)


def test_k_counts_with_the_rated_amps() -> None:
    # tau 600 s, k Ib 1.05 In, I = 2 In: cold 193.47 s, hot from In 20.858 s (IEC 60255-149).
    image = ThermalImage(1.0, 600.0, k=1.05)
    assert image.operates_in_s(2.0) == pytest.approx(193.47, abs=0.01)
    image.theta = (1.0 / 1.05) ** 2
    assert image.operates_in_s(2.0) == pytest.approx(20.858, abs=0.001)


@pytest.mark.parametrize("step_s", [0.2, 1.0, 7.0])
def test_steps_come_to_the_closed_form(step_s: float) -> None:
    # k Ib 20 A, tau 300 s, 24 A from cold: 355.69 s (IEC 60255-149); within 0.5 % at any step.
    image, t_s = ThermalImage(20.0, 300.0), 0.0
    while image.theta < 1.0:
        image.update(step_s, 24.0**2)
        t_s += step_s
    assert t_s == pytest.approx(355.69, abs=step_s + 0.005 * 355.69)


def test_one_time_constant_is_63_per_cent_of_the_way() -> None:
    image = ThermalImage(10.0, 120.0)
    for _ in range(120):
        image.update(1.0, 100.0)
    assert image.theta == pytest.approx(1.0 - math.exp(-1.0), abs=1e-9)
    image.update(1e6, 81.0)
    assert image.theta == pytest.approx(0.81)


def test_rated_amps_never_bring_it_there() -> None:
    image = ThermalImage(10.0, 60.0)
    assert image.operates_in_s(10.0) is None
    image.theta = 1.2
    assert image.operates_in_s(3.0) == 0.0


@given(st.floats(0.0, 0.99), st.floats(1.01, 5.0), st.floats(1.0, 3600.0), st.floats(0.1, 50.0))
def test_what_it_foresees_is_what_happens(
    theta: float, amps: float, time_constant_s: float, scale: float
) -> None:
    image = ThermalImage(scale, time_constant_s)
    image.theta = theta
    in_s = image.operates_in_s(amps * scale)
    assert in_s is not None
    image.update(in_s, (amps * scale) ** 2)
    assert image.theta == pytest.approx(1.0, abs=1e-9)
