"""Heat against published heat capacities and published conductivities."""

import math

import pytest

from monitor.analysis.bath_heat import CAUSTIC_PER_KELVIN, BathTemperature, at_25, warming_share
from monitor.model.estimate import Charge, Estimate, Forecast
from monitor.settings.bench import Bath


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


# Wu, Koch & Pratt, J. Res. NIST 96 (1991) 191: KCl 0.01 mol/kg, uS/cm by Celsius.
KCL_001 = {0: 772.92, 10: 1013.95, 20: 1273.03, 25: 1408.23, 30: 1546.63, 40: 1831.27, 50: 2123.43}


def test_the_standard_solution_has_the_slope_that_is_published() -> None:
    # Mean slope 20 to 30 C of 0.01 mol/kg KCl: 1.943 %/K; kappa(50)/kappa(25) 1.50787 (same).
    assert (KCL_001[30] - KCL_001[20]) / 10.0 / KCL_001[25] == pytest.approx(0.01943, abs=1e-5)
    assert KCL_001[50] / KCL_001[25] == pytest.approx(1.50787, abs=1e-5)


@pytest.mark.parametrize(("celsius", "error"), [(30, 0.0016), (20, -0.0044), (0, -0.089)])
def test_two_per_cent_a_kelvin_errs_as_the_standard_solution_says(
    celsius: int, error: float
) -> None:
    # What 2 %/K makes of 0.01 mol/kg KCl away from 25 C, from the table above: exact near 25 C,
    # 9 % out at 0 C. The error is that of the factor, kappa(25) (1 + alpha dT) over kappa(T).
    referred = at_25(KCL_001[celsius], float(celsius), 0.02)
    assert referred is not None
    factor_error = KCL_001[celsius] / referred / (KCL_001[celsius] / KCL_001[25]) - 1.0
    assert factor_error == pytest.approx(error, abs=0.002)


# Wu & Koch, J. Res. NIST 99 (1994) 241, Pratt et al., Pure Appl. Chem. 73 (2001) 1783: KCl 0.1 and
# 1 mol/kg, uS/cm by Celsius.
KCL_01 = {0: 7116.85, 25: 12824.6, 50: 19180.9}
KCL_1 = {0: 63488.0, 25: 108620.0, 50: 157670.0}


def test_a_stronger_solution_has_a_flatter_slope_and_two_per_cent_errs_the_other_way() -> None:
    # 2 %/K over-corrects 1 mol/kg KCl by 3.3 % at 50 C, where 0.01 mol/kg is 0.5 % under.
    for table, error in ((KCL_1, 0.0334), (KCL_001, -0.0052)):
        referred = at_25(table[50], 50.0, 0.02)
        assert referred is not None
        assert table[25] / referred - 1.0 == pytest.approx(error, abs=5e-4)
    ratios = [table[50] / table[25] for table in (KCL_001, KCL_01, KCL_1)]
    assert ratios == sorted(ratios, reverse=True)


# Landolt-Boernstein, 18 to 26 C, referred to 25 C, as a meter's manual quotes it: NaOH by mol/L.
NAOH_PER_KELVIN = {0.641: 0.0171, 6.122: 0.0247, 15.3: 0.0466}


@pytest.mark.parametrize(("molar", "per_kelvin"), NAOH_PER_KELVIN.items())
def test_the_default_coefficient_is_a_dilute_baths_and_others_are_settings(
    molar: float, per_kelvin: float
) -> None:
    """Ten kelvin of warming alone must come out as warming alone, by the bath's own coefficient."""

    def left(used: float) -> float:
        bath = BathTemperature(None)
        bath.update(0.0, 0.0, 20.0)
        bath.update(1.0, 0.0, 30.0)
        warming = bath.warming_rise(used)
        assert warming is not None
        true = (1.0 + 5.0 * per_kelvin) / (1.0 - 5.0 * per_kelvin)
        return true / (1.0 + warming) - 1.0

    assert left(per_kelvin) == pytest.approx(0.0, abs=1e-12)
    # The default leaves half a per cent at 0.64 mol/L, and takes 8 % for something else at 6.
    assert (abs(left(CAUSTIC_PER_KELVIN)) < 0.006) is (molar < 1.0)
    settings = Bath.model_validate({"litres": 9.0, "per_kelvin": per_kelvin})
    assert settings.per_kelvin == per_kelvin


def test_caustic_warms_as_landolt_boernstein_says_and_two_per_cent_overcorrects() -> None:
    # NaOH 0.641 mol/L: 1.71 %/K referred to 25 C (Landolt-Boernstein, as a meter manual quotes
    # it). 5 % NaOH at 20 C: 206 mS/cm (CRC Handbook, Electrical Conductivity of Aqueous
    # Solutions). Warmed by ten kelvin it conducts 17.9 % more, by the default within 0.5 %.
    own = at_25(206.0, 20.0, 0.0171)
    ours = at_25(206.0, 20.0)
    two = at_25(206.0, 20.0, 0.02)
    assert own is not None
    assert ours is not None
    assert two is not None
    assert ours == pytest.approx(own, rel=0.003)
    assert two > own * 1.014


# PHREEQC by pyEQL, 1.25 mol/kg NaOH: conductivity over that at 25 C, by Celsius.
PHREEQC_NAOH = {10: 0.752, 20: 0.917, 30: 1.082, 40: 1.243, 50: 1.399}


@pytest.mark.parametrize(("celsius", "ratio"), PHREEQC_NAOH.items())
def test_a_caustic_bath_is_referred_to_25_within_the_models_band(
    celsius: int, ratio: float
) -> None:
    referred = at_25(ratio, float(celsius))
    assert referred is not None
    assert referred == pytest.approx(1.0, abs=0.03)


def test_far_below_any_bath_nothing_is_referred() -> None:
    assert at_25(1.0, -40.0) is None


def test_warming_and_the_rest_make_up_the_rise() -> None:
    bath = BathTemperature(None)
    bath.update(0.0, 0.0, 20.0)
    bath.update(1.0, 0.0, 30.0)
    warming = bath.warming_rise(0.0175)
    assert warming is not None
    assert warming == pytest.approx((1 + 0.0175 * 5) / (1 - 0.0175 * 5) - 1.0)
    estimate = Estimate(
        1, 10**9, Forecast(), Charge(), siemens=1.3, siemens_at_start=1.0, warming_rise=warming
    )
    assert estimate.other_rise is not None
    assert (1.0 + warming) * (1.0 + estimate.other_rise) == pytest.approx(1.3)
    assert estimate.series_ohms == pytest.approx(1.0 / 1.3)
