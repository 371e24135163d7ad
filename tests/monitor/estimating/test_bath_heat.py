"""Heat against published heat capacities and published conductivities."""

import math

import pytest

from monitor.estimating.bath_heat import BathTemperature, warming_share


def warmed(litres: float, watts: float, seconds: int) -> float:
    bath = BathTemperature(litres)
    for t in range(seconds + 1):
        bath.update(float(t), watts, None)
    assert bath.celsius is not None
    return bath.celsius - 20.0


def test_a_litre_of_water_warms_as_its_heat_capacity_says() -> None:
    # 100 W into 1 L of water: 1.439 K/min (IAPWS-IF97: 4178 J/(L K) at 20 C).
    assert warmed(1.0, 100.0, 60) == pytest.approx(1.439, rel=0.02)


def test_two_litres_of_caustic_warm_as_laliberte_says() -> None:
    # 120 W into 2 L of 5 % NaOH: 0.869 K/min (3940 J/(kg K), 1.0519 kg/L; Laliberte 2009).
    assert warmed(2.0, 120.0, 60) == pytest.approx(0.869, rel=0.02)


def test_a_warm_bath_comes_to_a_balance() -> None:
    # Power in equals loss out: 10 W over 1 W/K is 10 K.
    assert warmed(1.0, 10.0, 40_000) == pytest.approx(10.0, rel=1e-3)


def test_a_rise_that_is_all_warming_is_said_to_be() -> None:
    # PHREEQC by pyEQL, 1.25 mol/kg NaOH: conductivity 30 C over 20 C is 1.082 / 0.917; with the
    # default 1.75 %/K (McCleskey 2011) warming explains all of it within the model's 3 %.
    share = warming_share(math.log(1.082 / 0.917), 20.0, 30.0)
    assert share is not None
    assert share > 0.97


def test_a_rise_at_constant_temperature_is_not_warming() -> None:
    assert warming_share(math.log(1.2), 21.0, 21.0) == 0.0


def test_too_small_a_rise_is_not_split() -> None:
    assert warming_share(math.log(1.01), 20.0, 21.0) is None


def test_without_probe_and_litres_the_temperature_is_unknown() -> None:
    bath = BathTemperature(None)
    bath.update(0.0, 100.0, None)
    assert bath.celsius is None
    assert bath.share_of(0.2, 0.0175) is None


def test_a_probe_beats_the_balance_and_is_held_for_a_minute() -> None:
    bath = BathTemperature(None)
    bath.update(0.0, 0.0, 31.5)
    bath.update(30.0, 0.0, None)
    assert bath.celsius == 31.5
    bath.update(90.0, 0.0, None)
    assert bath.celsius is None


def test_a_probe_that_comes_late_keeps_the_rise_so_far() -> None:
    bath = BathTemperature(1.0)
    for t in range(601):
        bath.update(float(t), 100.0, None)
    assert bath.celsius is not None
    rise = bath.celsius - 20.0
    bath.update(601.0, 100.0, 40.0)
    assert bath.celsius == 40.0
    assert bath.share_of(0.5, 0.0175) == pytest.approx(
        math.log((1 + 0.0175 * 15.0) / (1 + 0.0175 * (15.0 - rise))) / 0.5, rel=1e-2
    )
