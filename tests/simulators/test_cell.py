"""The cell against constants, handbook values and closed forms; each source beside its check."""

import math

import pytest

from simulators.cell import (
    CHROMIUM_G_PER_C,
    DRYING_EXPONENT,
    FARADAY_C_PER_MOL,
    VAPOUR_PER_KELVIN,
    Bath,
    Cell,
    Circuit,
    Part,
)

DT_S = 0.05


def still_bath(litres: float = 1.0, celsius: float = 25.0, capacity: float = 4144.0) -> Bath:
    """A bath that loses neither heat nor water."""
    return Bath(
        "test",
        litres,
        celsius=celsius,
        room_celsius=celsius,
        watts_per_kelvin=0.0,
        evaporation_ml_per_hour=0.0,
        joules_per_litre_kelvin=capacity,
    )


def plain_circuit(siemens: float, polarisation_volts: float = 0.0) -> Circuit:
    """Nothing between the terminals but the solution; every watt warms it."""
    return Circuit(
        siemens,
        polarisation_volts,
        polarisation_rise_volts=0.0,
        lead_ohms=0.0,
        thermoneutral_volts=0.0,
    )


def run(cell: Cell, volts: float, seconds: float) -> None:
    for _ in range(round(seconds / DT_S)):
        cell.step(volts, cell.amps_at(volts), wander=0.0, contact=1.0)


def test_the_faraday_constant_is_the_published_one() -> None:
    # CODATA 2018, exact: the product of two defining constants of the SI.
    elementary_charge, avogadro = 1.602176634e-19, 6.02214076e23
    assert pytest.approx(elementary_charge * avogadro, rel=1e-12) == FARADAY_C_PER_MOL


def test_chromium_leaves_with_six_electrons_at_the_trades_rate() -> None:
    # Classic table of electrochemical equivalents: chromium (6) 0.323 g/Ah.
    assert pytest.approx(0.323, abs=0.0005) == CHROMIUM_G_PER_C * 3600.0
    # Faraday's law with the CODATA constant and the IUPAC atomic weight: 0.32334 g/Ah.
    assert pytest.approx(0.32334, rel=1e-4) == CHROMIUM_G_PER_C * 3600.0


def test_decorative_chromium_on_one_square_decimetre_takes_the_charge_of_faradays_law() -> None:
    # Faraday's law at 7.19 g/cm3 (trade table): 0.3 um by 1 dm2 takes 240.2 C of dissolving charge.
    part = Part(1.0, 0.3, efficiency=0.5, patchy=0.001)
    cell = Cell(still_bath(litres=1000.0), plain_circuit(1.0, 1.0), part, DT_S)
    seconds = 0.0
    while not cell.is_stripped:
        cell.step(11.0, cell.amps_at(11.0), 0.0, 1.0)
        seconds += DT_S
    coulombs = cell.amp_hours * 3600.0
    assert coulombs * 0.5 == pytest.approx(240.2 * 0.99, rel=0.002)  # stripped means 1 % left
    assert coulombs == pytest.approx(10.0 * seconds, rel=0.002)


def test_the_last_patches_take_longer_than_the_charge_says() -> None:
    def amp_hours_to_strip(patchy: float) -> float:
        part = Part(1.0, 0.3, efficiency=0.5, patchy=patchy)
        cell = Cell(still_bath(litres=1000.0), plain_circuit(1.0, 1.0), part, DT_S)
        while not cell.is_stripped:
            cell.step(11.0, cell.amps_at(11.0), 0.0, 1.0)
        return cell.amp_hours

    assert amp_hours_to_strip(0.3) > 1.2 * amp_hours_to_strip(0.001)


def test_the_current_falls_when_the_chromium_is_gone_since_oxygen_needs_more_volts() -> None:
    # Standard potentials in caustic (CRC tables): chromate/chromium -0.72 V, oxygen/hydroxide
    # +0.40 V, so that the anode can only go up.
    circuit = Circuit(1.0, 1.8, polarisation_rise_volts=0.5, lead_ohms=0.0)
    cell = Cell(still_bath(litres=1000.0), circuit, Part(0.2), DT_S)
    before = cell.amps_at(6.0)
    run(cell, 6.0, 400.0)
    assert cell.is_stripped
    assert cell.amps_at(6.0) < 0.95 * before


def test_a_new_part_brings_its_chromium_back() -> None:
    cell = Cell(still_bath(litres=1000.0), plain_circuit(1.0, 1.0), Part(0.2), DT_S)
    run(cell, 11.0, 400.0)
    assert cell.is_stripped
    cell.hang_new_part()
    assert not cell.is_stripped


def test_a_bath_that_warms_itself_follows_the_closed_form() -> None:
    # Adiabatic ohmic self-heating at constant volts: I(t) = I0 exp(alpha V I0 t / C), from
    # dT/dt = V I / C and dI/dT = alpha I0. Case: 6 V, 20 A, 2 L of 5 % NaOH, alpha 0.0175/K,
    # C = 8288.9 J/K; 22 A at 376.20 s, 24 A at 719.64 s.
    cell = Cell(still_bath(2.0, capacity=8288.9 / 2.0), plain_circuit(20.0 / 6.0), None, DT_S)
    assert cell.amps_at(6.0) == pytest.approx(20.0)
    reached: dict[float, float] = {}
    for step in range(1, round(730.0 / DT_S)):
        cell.step(6.0, cell.amps_at(6.0), 0.0, 1.0)
        for amps in (22.0, 24.0):
            if amps not in reached and cell.amps_at(6.0) >= amps:
                reached[amps] = step * DT_S
        if 24.0 in reached:
            break
    assert reached[22.0] == pytest.approx(376.20, rel=0.005)
    assert reached[24.0] == pytest.approx(719.64, rel=0.005)


def test_a_hundred_watts_warm_a_litre_of_water_as_the_steam_tables_say() -> None:
    # IAPWS-IF97 at 25 C and 0.1 MPa: 4181.9 J/(kg K) by 0.997048 kg/L, hence 1.439 K/min.
    bath = still_bath(1.0, celsius=25.0, capacity=4181.9 * 0.997048)
    cell = Cell(bath, plain_circuit(1.0), None, DT_S)
    for _ in range(round(60.0 / DT_S)):
        cell.step(10.0, 10.0, 0.0, 1.0)
    assert cell.celsius - 25.0 == pytest.approx(1.439, rel=0.001)


def test_the_default_heat_capacity_is_that_of_five_percent_caustic() -> None:
    # Laliberte (2009), 5 % NaOH at 25 C: 3940 J/(kg K) by 1.0519 kg/L.
    assert Bath("test", 1.0).joules_per_litre_kelvin == pytest.approx(3940 * 1.0519, rel=0.001)


def test_what_splits_water_does_not_warm_the_bath() -> None:
    warm = Cell(still_bath(), plain_circuit(1.0, 1.5), None, DT_S)
    cool = Cell(still_bath(), Circuit(1.0, 1.5, lead_ohms=0.0), None, DT_S)
    run(warm, 6.0, 60.0)
    run(cool, 6.0, 60.0)
    # Thermoneutral voltage of water electrolysis 1.48 V at 25 C (from memory): 285.8 kJ/mol / 2F.
    assert pytest.approx(1.481, abs=0.001) == 285830.0 / (2 * FARADAY_C_PER_MOL)
    assert (cool.celsius - 25) / (warm.celsius - 25) == pytest.approx((6 - 1.48) / 6, rel=0.01)


def mccleskey_lambda(molar: float, celsius: float) -> float:
    """McCleskey, J. Chem. Eng. Data 56, 317-327 (2011), NaOH: molar conductivity, S cm2/mol."""
    limiting = 0.006936 * celsius**2 + 3.872 * celsius + 148.3
    slope = 0.01018 * celsius**2 + 0.67421 * celsius + 56.76
    return limiting - slope * math.sqrt(molar) / (1.0 + 0.2 * math.sqrt(molar))


def test_the_default_temperature_coefficient_is_that_of_a_caustic_bath() -> None:
    alpha = Bath("test", 1.0).alpha_per_kelvin
    # 5 % NaOH is 1.315 mol/L at 25 C (density 1.0519, 39.997 g/mol).
    rise = (mccleskey_lambda(1.315, 26.0) - mccleskey_lambda(1.315, 24.0)) / 2.0
    assert alpha == pytest.approx(rise / mccleskey_lambda(1.315, 25.0), rel=0.03)
    # Landolt-Boernstein, as quoted in a conductivity meter's manual: 1.71 %/K at 0.641 mol/L.
    assert alpha == pytest.approx(0.0171, rel=0.03)


@pytest.mark.parametrize(
    ("celsius", "ratio"),
    [(10.0, 0.752), (20.0, 0.917), (30.0, 1.082), (40.0, 1.243), (50.0, 1.399)],
)
def test_conductance_over_temperature_stays_near_that_of_caustic(
    celsius: float, ratio: float
) -> None:
    # Computed with PHREEQC for 1.25 mol NaOH per kg water, ratio to 25 C.
    here = Cell(still_bath(celsius=celsius), plain_circuit(1.0), None, DT_S).amps_at(1.0)
    assert here == pytest.approx(ratio, rel=0.03)


def test_drying_out_conducts_better() -> None:
    # Computed with PHREEQC for 50 g NaOH per kg water: +9.5 % for 10 % of the water gone.
    assert pytest.approx(1.095, abs=0.002) == (1.0 / 0.9) ** DRYING_EXPONENT
    # Vapour pressure of water by IAPWS-IF97: 2.339 kPa at 20 C, 7.384 at 40 C.
    assert math.exp(20.0 * VAPOUR_PER_KELVIN) == pytest.approx(7.384 / 2.339, rel=0.01)


def test_evaporation_takes_water_and_heat_and_water_poured_in_brings_the_bath_back() -> None:
    bath = Bath(
        "test",
        1.0,
        celsius=25.0,
        room_celsius=25.0,
        watts_per_kelvin=0.0,
        evaporation_ml_per_hour=100.0,
    )
    cell = Cell(bath, plain_circuit(1.0), None, DT_S)
    run(cell, 0.0, 60.0)
    gone_ml = 1000.0 * (1.0 - cell.litres)
    assert gone_ml == pytest.approx(100.0 / 60.0, rel=0.03)
    # IAPWS-IF97: 2430 J/g at 30 C (2442 at 25).
    assert (25.0 - cell.celsius) * 4144.0 == pytest.approx(gone_ml * 2430.0, rel=0.02)
    before = Cell(still_bath(celsius=cell.celsius), plain_circuit(1.0), None, DT_S).siemens
    assert cell.siemens > before
    cell.pour_in(1.0 - cell.litres)
    cell.step(0.0, 0.0, 0.0, 1.0)
    assert cell.siemens == pytest.approx(before, rel=0.001)


def test_a_bath_cools_to_the_room() -> None:
    bath = Bath("test", 0.4, celsius=40.0, room_celsius=20.0, evaporation_ml_per_hour=0.0)
    cell = Cell(bath, plain_circuit(1.0), None, DT_S)
    run(cell, 0.0, 0.4 * 4144.0 / 2.5)  # one time constant, C / (W/K)
    assert cell.celsius == pytest.approx(20.0 + 20.0 / math.e, abs=0.05)


@pytest.mark.parametrize("loading", [-0.02, 0.05])
def test_loading_grows_with_the_charge_and_can_go_either_way(loading: float) -> None:
    circuit = Circuit(
        1.0, 0.0, lead_ohms=0.0, thermoneutral_volts=0.0, loading_per_amp_hour=loading
    )
    cell = Cell(still_bath(litres=1000.0), circuit, None, DT_S)
    run(cell, 10.0, 360.0)
    assert cell.siemens == pytest.approx(1.0 + loading * cell.amp_hours, rel=0.001)


@pytest.mark.parametrize("short_siemens", [0.0, 20.0])
@pytest.mark.parametrize("siemens", [0.0, 0.5, 5.0])
@pytest.mark.parametrize("volts", [0.5, 2.5, 9.0])
def test_amps_for_volts_and_volts_for_amps_agree(
    volts: float, siemens: float, short_siemens: float
) -> None:
    cell = Cell(still_bath(), Circuit(1.0, 1.8, lead_ohms=0.02), None, DT_S)
    cell.siemens, cell.short_siemens = siemens, short_siemens
    amps = cell.amps_at(volts)
    assert amps >= 0.0
    if amps > 0.0:
        assert cell.volts_at(amps) == pytest.approx(volts)


def test_no_current_flows_under_the_polarisation_voltage() -> None:
    cell = Cell(still_bath(), Circuit(5.0, 1.8), None, DT_S)
    assert cell.amps_at(1.79) == 0.0
    assert cell.amps_at(1.81) > 0.0


def test_a_lifted_swab_conducts_nothing_and_no_volts_can_change_that() -> None:
    cell = Cell(still_bath(), Circuit(5.0, 1.8), None, DT_S)
    cell.step(9.0, 0.0, 0.0, contact=0.0)
    assert cell.amps_at(9.0) == 0.0
    assert math.isinf(cell.volts_at(1.0))


def test_a_short_passes_current_but_strips_nothing() -> None:
    cell = Cell(still_bath(), Circuit(0.001, 1.8, lead_ohms=0.0), Part(1.0), DT_S)
    cell.short_siemens = 10.0
    chromium = cell.chromium_grams
    run(cell, 1.0, 10.0)
    assert cell.amps_at(1.0) == pytest.approx(10.0)
    assert (cell.amp_hours, cell.chromium_grams) == (0.0, chromium)
