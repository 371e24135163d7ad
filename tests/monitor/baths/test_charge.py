"""What a part takes, against Faraday's law, the standards' thicknesses and tabled figures."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants  # type: ignore[import-untyped]  # scipy ships no types

from monitor.analysis.conductance import LOWEST_VOLTS
from monitor.base.errors import WrongUse
from monitor.baths.by_products import (
    caustic_grams_per_amp_hour,
    chromium_grams,
    hydrogen_litres_per_amp_hour,
    oxygen_litres_per_amp_hour,
)
from monitor.baths.charge_need import Efficiency, charge_need, learned_efficiency
from monitor.baths.designation import micrometres_of, parse_designation
from monitor.baths.shapes import MM_IN, area_of
from monitor.model.card import Way
from monitor.model.faraday import (
    AMP_HOURS_PER_MOL,
    CHROMIUM_G_PER_MOL,
    COULOMB_PER_MOL,
    NICKEL_G_PER_MOL,
    amp_hours_to_strip,
    grams_per_amp_hour,
)
from monitor.model.step import USUAL_STEPS


def test_the_constant_is_that_of_the_reference_library() -> None:
    # scipy.constants, CODATA 2018/2022: exact since 2019.
    value, _, uncertainty = constants.physical_constants["Faraday constant"]
    assert pytest.approx(value, rel=1e-10) == COULOMB_PER_MOL
    assert uncertainty == 0.0
    assert pytest.approx(26.8015, rel=1e-5) == AMP_HOURS_PER_MOL


@pytest.mark.parametrize(
    ("mass", "electrons", "grams", "table"),
    [
        # Faraday's law; the last column is the trade's table of electrochemical equivalents.
        (CHROMIUM_G_PER_MOL, 6, 0.32334, 0.323),
        (NICKEL_G_PER_MOL, 2, 1.09497, 1.095),
        (CHROMIUM_G_PER_MOL, 3, 0.64668, None),
    ],
)
def test_equivalents_are_those_of_the_table(
    mass: float, electrons: int, grams: float, table: float | None
) -> None:
    assert grams_per_amp_hour(mass, electrons) == pytest.approx(grams, rel=1e-4)
    if table is not None:
        assert round(grams_per_amp_hour(mass, electrons), 3) == table


def test_masses_are_the_standard_atomic_weights() -> None:
    # IUPAC/CIAAW standard atomic weights, g/mol (from memory).
    assert pytest.approx(51.9961, abs=6e-4) == CHROMIUM_G_PER_MOL
    assert pytest.approx(58.6934, abs=4e-4) == NICKEL_G_PER_MOL


@pytest.mark.parametrize(("g_per_cm3", "ounces"), [(7.19, 0.59), (8.90, 0.74)])
def test_a_mil_of_metal_weighs_what_the_classic_table_says(g_per_cm3: float, ounces: float) -> None:
    # Ounces per square foot and 0.001 inch, chromium and nickel; the table is good to 2 %.
    grams = g_per_cm3 * 929.0304 * 25.4e-4
    assert grams / 28.349523 == pytest.approx(ounces, rel=0.02)


def test_a_worked_square_decimetre() -> None:
    # 1 dm2 of 0.25 um at full efficiency: 200.1 C, 0.0556 Ah, 17.98 mg; 0.3 um at 5 A: 48.0 s.
    assert charge_need(1.0, 0.25).least == pytest.approx(0.0556, abs=5e-5)
    assert chromium_grams(1.0, 0.25) == pytest.approx(0.01798, abs=5e-6)
    sure = Efficiency(1.0, 1.0, 1.0, 9)
    left = charge_need(1.0, 0.3, sure).seconds_left(0.0, 5.0)
    assert left is not None
    assert left[0] == pytest.approx(48.0, abs=0.1)


def test_nickel_of_a_square_decimetre_and_micrometre() -> None:
    # 0.08128 Ah/(dm2 um) by Faraday's law with 8.90 g/cm3; 19.0 Ah per ft2 and mil in the classic
    # table, which was built with older weights: 2 %.
    per_um = 0.01 * 8.90 / grams_per_amp_hour(NICKEL_G_PER_MOL, 2)
    assert per_um == pytest.approx(0.08128, rel=1e-4)
    assert per_um * 9.290304 * 25.4 == pytest.approx(19.0, rel=0.02)


def test_density_is_a_choice() -> None:
    # Electrodeposits run from 6.9 to 7.2 g/cm3 (trade tables).
    assert charge_need(1.0, 0.3, g_per_cm3=6.9).least < charge_need(1.0, 0.3, g_per_cm3=7.2).least


@given(st.floats(0.01, 1000.0), st.floats(0.01, 200.0), st.floats(0.02, 1.0))
def test_the_least_is_never_over_the_likely(area: float, thick: float, share: float) -> None:
    need = charge_need(area, thick, Efficiency(share, share / 2.0, share, 3))
    assert need.likely is not None
    assert need.high is not None
    assert need.least <= need.likely <= need.high


def test_oxygen_takes_up_to_45_per_cent_so_all_of_it_is_never_promised() -> None:
    # Anodic dissolution of chromium at high current densities in sodium nitrate (2019).
    need = charge_need(1.0, 0.3, Efficiency(0.55, 0.5, 0.6, 4))
    assert need.likely == pytest.approx(amp_hours_to_strip(1.0, 0.3) / 0.55)
    with pytest.raises(ValueError, match="efficiency"):
        amp_hours_to_strip(1.0, 0.3, efficiency=1.2)


def test_a_bath_without_finished_runs_gives_the_bound_alone() -> None:
    need = charge_need(1.0, 0.3, learned_efficiency([]))
    assert need.likely is None
    assert need.progress(0.1) is None
    assert need.seconds_left(0.1, 5.0) is None


def test_efficiency_narrows_with_runs_and_leaves_out_what_cannot_be() -> None:
    runs = [(0.1, 0.40), (0.1, 0.41), (0.2, 0.79), (0.1, 0.39)]
    one, many = learned_efficiency(runs[:1]), learned_efficiency([*runs, (0.5, 0.1)])
    assert one is not None
    assert many is not None
    assert many.runs == 4
    assert many.share == pytest.approx(0.25, rel=0.02)
    assert many.high - many.low < one.high - one.low
    assert many.low < many.share < many.high <= 1.0


def test_progress_and_time_to_finish() -> None:
    need = charge_need(1.6, 0.3, Efficiency(0.25, 0.2, 0.3125, 5))
    assert need.progress(need.least * 2.0) == pytest.approx(0.5)
    left = need.seconds_left(need.least * 2.0, 5.0)
    assert left is not None
    likely, early, late = left
    assert early < likely < late
    assert likely == pytest.approx(need.least * 2.0 / 5.0 * 3600.0)
    assert need.seconds_left(99.0, 5.0) == (0.0, 0.0, 0.0)


def test_caustic_and_chromate_by_stoichiometry() -> None:
    # 12.437 mmol = 0.497 g NaOH, 0.3233 g Cr, 6.22 mmol chromate an ampere-hour, full efficiency.
    assert caustic_grams_per_amp_hour() == pytest.approx(0.497, abs=5e-4)
    assert caustic_grams_per_amp_hour() / 39.997 * 1000.0 == pytest.approx(12.437, abs=1e-3)
    moles = grams_per_amp_hour(CHROMIUM_G_PER_MOL, 6) / CHROMIUM_G_PER_MOL
    assert moles * 1000.0 == pytest.approx(6.22, abs=5e-3)


def test_gas_by_the_ideal_gas_law() -> None:
    # 0.4181 L/Ah at 0 C, 0.4564 at 25 C; oxygen 0.2282 (Faraday and ideal gas, 101.325 kPa).
    assert hydrogen_litres_per_amp_hour(0.0) == pytest.approx(0.4181, abs=5e-5)
    assert hydrogen_litres_per_amp_hour(25.0) == pytest.approx(0.4564, abs=5e-5)
    assert oxygen_litres_per_amp_hour() == pytest.approx(0.2282, abs=5e-5)


def test_potentials_leave_room_for_the_polarisation_voltage() -> None:
    # CRC Handbook Gibbs energies, kJ/mol: OH- -157.2, chromate -727.8, water -237.1.
    per_volt = 6.0 * COULOMB_PER_MOL / 1000.0
    chromium = (-727.8 - (2.0 * -157.2 + 2.0 * -237.1)) / per_volt
    oxygen = (2.0 * 237.1) / (4.0 * COULOMB_PER_MOL / 1000.0)
    assert chromium == pytest.approx(0.105, abs=0.001)
    assert oxygen == pytest.approx(1.229, abs=0.001)
    assert chromium < LOWEST_VOLTS < oxygen


@pytest.mark.parametrize(
    ("text", "dm2"),
    [
        ("100 cm2", 1.0),
        ("1 dm2", 1.0),
        ("10 in2", 0.64516),
        ("plate 10 x 10 cm", 1.0),
        ("sheet 100x50 mm", 1.0),
        ("disc 2 in", math.pi * 0.254**2 * 4.0 / 4.0),
        ("ball 1 dm", math.pi),
        ("dome 1 dm", math.pi / 2.0),
        ("tube 20 x 500 mm", math.pi),
        ("rod 2 x 5 dm", math.pi * 2.0 * 5.0 + 2.0 * math.pi),
        ("box 1 x 1 x 1 dm", 6.0),
        ("2 tubes 20 x 500 mm + plate 10 x 10 cm", 2.0 * math.pi + 1.0),
    ],
)
def test_shapes_have_the_area_of_geometry(text: str, dm2: float) -> None:
    assert area_of(text) == pytest.approx(dm2)


@given(st.floats(0.2, 9000.0), st.sampled_from(["mm", "cm", "in"]))
def test_units_of_length_round_trip(side_mm: float, unit: str) -> None:
    text = f"plate {side_mm / MM_IN[unit]:.9f} x 100 {unit}"
    expected = side_mm * 100.0 * MM_IN[unit] / 1e4
    if expected <= 1000.0:
        assert area_of(text) == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("text", ["0 cm2", "12", "tube 22 mm", "cone 5 mm", "plate 0 x 5 mm", ""])
def test_an_area_that_is_none_is_one_clear_line(text: str) -> None:
    with pytest.raises(WrongUse, match="area") as refused:
        area_of(text)
    assert "\n" not in str(refused.value)


def test_a_designation_without_thickness_means_0_3_micrometres() -> None:
    # ISO 1456 / ASTM B456 as quoted by the Metal Finishing guidebook 2011-12.
    coat = parse_designation("Fe/Ni35d Cr mp")
    assert (coat.base, coat.nickel_um, coat.nickel_type) == ("Fe", 35.0, "double-layer")
    assert (coat.chromium_um, coat.chromium_type) == (0.3, "microporous")


@pytest.mark.parametrize(
    ("text", "micrometres"),
    [
        ("Cr mp", 0.3),
        ("Ni40d Cr r", 0.3),
        ("Ni35d Cr mc", 0.3),
        ("Cr mc 0.8", 0.8),  # thicker microcracked chromium, from memory
        ("Zn/Cu20a Ni30b Cr r", 0.3),
        ("SC 1", 0.13),  # ASTM B456-03
        ("SC3", 0.25),  # at least 0.25 um, ASTM B456-03
        ("0.5 um", 0.5),
        ("10 uin", 0.254),
        ("300 nm", 0.3),
    ],
)
def test_thickness_by_class_designation_or_number(text: str, micrometres: float) -> None:
    assert micrometres_of(text) == pytest.approx(micrometres)


@pytest.mark.parametrize("text", ["0.3", "0 um", "3 mm", "Cr xx", "Ni35d", "5 cm2", "Cr 0.3 r 0.5"])
def test_a_thickness_in_the_wrong_unit_is_one_clear_line(text: str) -> None:
    with pytest.raises(WrongUse) as refused:
        micrometres_of(text)
    assert "\n" not in str(refused.value)


def test_the_demos_strip_is_one_as_published() -> None:
    # 60 to 90 g/L of caustic at 3.9 to 15.5 A/dm2 (L. Zitko, STERC, June 2002; the area's unit is
    # inferred), 4 to 6 V in caustic at ambient to 43 C (R. Taylor, NMFRC, November 2007).
    from simulators.workshop import BENCH_1, TANK_WORK, lines

    made = next(line for line in lines(days=1) if line["kind"] == "entry")
    assert 60.0 <= float(str(made["grams_per_litre"])) <= 90.0
    jobs = [line for line in lines(days=5) if line["kind"] == "run"]
    assert jobs
    for work in TANK_WORK:
        # At 6 V beyond 1.9 V of polarisation (Ohm's law).
        amps = work.siemens * (6.0 - 1.9)
        assert amps < BENCH_1.limit_amps
        assert amps / work.area_dm2 < 15.5


def test_what_a_shop_might_set_for_a_strip_lies_within_what_is_published() -> None:
    # Tanks: 6 V (Products Finishing, "Stripping nickel chrome"), 4 to 6 V (NMFRC, questions and
    # answers, March 2007), within the default.
    strip = next(step for step in USUAL_STEPS if step.name == "strip")
    low, high = strip.volts or (0.0, 0.0)
    assert low <= 4.0 < 6.0 <= high
    # Swabs: 6 to 12 V, common practice, no source.
    assert strip.done_with(Way.SWAB).volts == (6.0, 12.0)
