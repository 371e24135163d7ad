"""Charge for a layer of chromium against Faraday's law worked by hand and the trade's table."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.faraday import (
    CHROMIUM_G_PER_CM3,
    CHROMIUM_G_PER_MOL,
    NICKEL_G_PER_MOL,
    amp_hours_to_strip,
    micrometres_stripped,
)

DM2_PER_FT2 = 9.290304


@pytest.mark.parametrize(
    ("micrometres", "coulombs"),
    [(0.13, 104.1), (0.25, 200.1), (0.30, 240.2), (0.5, 400.3), (0.8, 640.4)],
)
def test_one_square_decimetre_takes_what_faraday_says(micrometres: float, coulombs: float) -> None:
    # 7.19 g/cm3, 51.9961 g/mol, six electrons, 96485.33212 C/mol (CODATA 2018).
    assert amp_hours_to_strip(1.0, micrometres) * 3600.0 == pytest.approx(coulombs, abs=0.05)


def test_a_micrometre_takes_0_22237_amp_hours_a_square_decimetre() -> None:
    # 8.005 C/(cm2 um), Faraday's law.
    assert amp_hours_to_strip(1.0, 1.0) == pytest.approx(0.22237, abs=1e-5)
    assert amp_hours_to_strip(0.01, 1.0) * 3600.0 == pytest.approx(8.005, abs=1e-3)


@pytest.mark.parametrize("g_per_cm3", [7.15, 7.19, 7.2])
def test_the_trade_table_agrees_within_its_own_two_per_cent(g_per_cm3: float) -> None:
    # Classic table of electrochemical equivalents: 51.8 Ah per square foot and 0.001 inch.
    per_mil = amp_hours_to_strip(DM2_PER_FT2, 25.4, g_per_cm3)
    assert per_mil == pytest.approx(51.8, rel=0.02)


def test_the_constants_are_those_of_the_tables() -> None:
    # IUPAC standard atomic weights, from memory: Cr 51.9961(6), Ni 58.6934(4).
    assert (CHROMIUM_G_PER_MOL, NICKEL_G_PER_MOL) == (51.9961, 58.6934)
    # Chromium 7.19 to 7.2 g/cm3, electrodeposits 6.9 to 7.2 (trade tables): a default only.
    assert 7.19 <= CHROMIUM_G_PER_CM3 <= 7.2


def test_a_mil_on_a_square_foot_weighs_what_the_trade_table_says() -> None:
    # 0.59 oz per square foot and 0.001 inch; such tables are good to two per cent.
    grams = DM2_PER_FT2 * 25.4 * 0.01 * CHROMIUM_G_PER_CM3
    assert grams / 28.349523125 == pytest.approx(0.59, rel=0.02)


def test_half_the_efficiency_takes_twice_the_charge() -> None:
    whole = amp_hours_to_strip(2.0, 0.3)
    assert amp_hours_to_strip(2.0, 0.3, efficiency=0.5) == pytest.approx(2.0 * whole)
    # The apparent valence falls to 3.5 at high potentials (anodic dissolution of chromium in
    # sodium nitrate electrolyte, 2019): fewer electrons, less charge.
    assert amp_hours_to_strip(2.0, 0.3, electrons=3.5) == pytest.approx(whole * 3.5 / 6.0)


@pytest.mark.parametrize("efficiency", [0.0, -0.1, 1.01])
def test_an_efficiency_that_cannot_be_is_refused(efficiency: float) -> None:
    with pytest.raises(ValueError, match="efficiency"):
        amp_hours_to_strip(1.0, 0.3, efficiency=efficiency)


@given(st.floats(0.01, 1000.0), st.floats(0.01, 200.0), st.floats(0.05, 1.0))
def test_thickness_and_charge_round_trip(area: float, micrometres: float, part: float) -> None:
    amp_hours = amp_hours_to_strip(area, micrometres, efficiency=part)
    back = micrometres_stripped(amp_hours, area, efficiency=part)
    assert back == pytest.approx(micrometres, rel=1e-9)
