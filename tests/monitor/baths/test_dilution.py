"""Dilution against the handbook's conductivities and limiting laws, and by its own promises."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.analysis.bath_heat import CAUSTIC_PER_KELVIN, at_25
from monitor.base.errors import WrongUse
from monitor.baths.advice import Case, advice
from monitor.baths.dilution import (
    CARBONATE_AT_20,
    CAUSTIC_AT_20,
    Draw,
    Exponent,
    exponent,
    learned_exponent,
    ms_per_cm,
    promise_error,
)
from monitor.baths.job_run import Vessel
from monitor.model.advice import Advice, Reason, Remedy
from monitor.model.entry import BathState
from monitor.text.bath_advice import advice_text

TABLE = Exponent(exponent(), 0.1, 0)


def told(
    draw: Draw,
    aim: float,
    litres: float,
    holds_litres: float | None = None,
    grams_per_litre: float | None = None,
) -> Advice:
    found = advice(
        Case(draw, aim),
        BathState(litres, grams_per_litre),
        TABLE,
        Vessel(holds_litres=holds_litres),
    )
    assert found is not None
    return found


@pytest.mark.parametrize(("per_cent", "ms"), [(0.5, 24.8), (1, 48.6), (2, 93.1), (5, 206.0)])
def test_caustic_conducts_as_the_handbook_says(per_cent: float, ms: float) -> None:
    # CRC Handbook, Electrical Conductivity of Aqueous Solutions, 20 C; 1 %.
    assert ms_per_cm(per_cent) == pytest.approx(ms, rel=0.01)


@given(st.floats(0.5, 4.99), st.floats(1.0001, 1.5))
def test_more_caustic_conducts_more_and_less_than_in_proportion(c: float, times: float) -> None:
    # Conductivity is sub-linear in concentration (Kohlrausch).
    more = min(c * times, 5.0)
    assert ms_per_cm(c) < ms_per_cm(more) <= ms_per_cm(c) * (more / c) * 1.0001


@pytest.mark.parametrize(
    ("per_cent", "ms"), [(0.5, 7.0), (1, 13.1), (2, 23.3), (5, 47.0), (10, 74.4), (15, 88.6)]
)
def test_carbonate_conducts_a_quarter_as_well(per_cent: float, ms: float) -> None:
    # The same table, Na2CO3.
    assert ms_per_cm(per_cent, "carbonate") == pytest.approx(ms, rel=0.01)
    if per_cent <= 5:
        assert 3.0 < ms_per_cm(per_cent) / ms_per_cm(per_cent, "carbonate") < 5.0


@pytest.mark.parametrize(
    ("mass_percent", "litre_grams", "handbook"),
    [(0.5, 5.02, 24.8), (1.0, 10.1, 48.6), (2.0, 20.4, 93.1), (5.0, 52.7, 206.0)],
)
def test_a_published_equation_agrees_with_the_table(
    mass_percent: float, litre_grams: float, handbook: float
) -> None:
    # McCleskey, J. Chem. Eng. Data 56, 317 (2011), NaOH at 20 C; within 3.5 % of the CRC table.
    t, molal = 20.0, litre_grams / 39.997
    limit = 0.006936 * t * t + 3.872 * t + 148.3
    slope = 0.01018 * t * t + 0.67421 * t + 56.76
    root = math.sqrt(molal)
    equivalent = limit - slope * root / (1.0 + 0.2 * root)
    assert equivalent * molal == pytest.approx(handbook, rel=0.035)
    assert ms_per_cm(mass_percent) == pytest.approx(equivalent * molal, rel=0.035)


def test_the_default_coefficient_is_that_of_a_caustic_bath() -> None:
    # 1.71 %/K at 0.641 mol/L (Landolt-Boernstein, by a meter's manual), 1.75 by McCleskey at 5 %;
    # 2 %/K would overcorrect.
    assert 0.0171 <= CAUSTIC_PER_KELVIN <= 0.0175
    # NaOH 1.25 mol/kg from PHREEQC: ratio to 25 C; 3 %.
    for celsius, ratio in ((10, 0.752), (20, 0.917), (30, 1.082), (40, 1.243), (50, 1.399)):
        assert at_25(ratio, celsius, CAUSTIC_PER_KELVIN) == pytest.approx(1.0, rel=0.03)


def test_limiting_conductivities_and_the_root_law_bend_the_same_way() -> None:
    # CRC limiting ionic conductivities, 25 C, S cm2/mol.
    assert pytest.approx(248.08) == 198.0 + 50.08
    assert pytest.approx(270.16) == 2 * 85.0 + 2 * 50.08
    # Chromate in the place of two hydroxides lowers conductance, so no rise is blamed on it.
    assert pytest.approx(-226.0) == 2 * 85.0 - 2 * 198.0
    # Kohlrausch: KCl 147.68 and 140.34 S cm2/mol at 0.0005 and 0.01 mol/L (Onsager, from memory).
    bent = math.log(140.34 * 0.01 / (147.68 * 0.0005)) / math.log(0.01 / 0.0005)
    assert exponent("carbonate") < exponent() < bent < 1.0


def test_water_takes_the_amps_where_they_should_be() -> None:
    draw = Draw(9.0, 6.0, 1.8, 25.0)
    found = told(draw, 7.5, 9.0, 20.0)
    assert found.remedy is Remedy.DILUTE
    strengths = 9.0 / (9.0 + found.water_litres)
    assert 9.0 * strengths**TABLE.n == pytest.approx(7.5)
    assert found.low_litres < found.water_litres < found.high_litres


def test_leads_do_not_thin() -> None:
    bare = told(Draw(9.0, 6.0, 1.8, 25.0), 7.5, 9.0)
    behind_leads = told(Draw(9.0, 6.0, 1.8, 25.0, lead_ohms=0.1), 7.5, 9.0)
    assert behind_leads.water_litres > bare.water_litres


def test_a_warm_bath_is_told_to_cool() -> None:
    found = told(Draw(9.0, 6.0, 1.8, 38.0, usual_celsius=22.0), 7.5, 9.0)
    assert found.remedy is Remedy.COOL
    assert found.water_litres == 0.0
    assert found.amps_cool is not None
    assert found.amps_cool < 7.5


def test_a_warm_bath_that_is_too_strong_is_thinned_for_the_rest_alone() -> None:
    cold = told(Draw(9.0, 6.0, 1.8, 22.0, usual_celsius=22.0), 6.0, 9.0)
    warm = told(Draw(9.0, 6.0, 1.8, 32.0, usual_celsius=22.0), 6.0, 9.0)
    assert warm.remedy is Remedy.DILUTE
    assert 0.0 < warm.water_litres < cold.water_litres
    assert "cool" in advice_text(warm)


@given(st.floats(0.5, 50.0), st.floats(1.05, 2.5), st.floats(1.0, 1.5))
def test_a_full_tank_is_never_overfilled(litres: float, over: float, room: float) -> None:
    holds = litres * room
    found = told(Draw(7.0 * over, 6.0, 1.8), 7.0, litres, holds)
    after = litres - found.drawn_litres + found.water_litres
    assert after <= holds * 1.000001
    strengths = (litres - found.drawn_litres) / after
    assert over * strengths**TABLE.n == pytest.approx(1.0)


def test_where_water_would_bring_it_under_the_working_strength_it_is_titrated_first() -> None:
    found = told(Draw(9.0, 6.0, 1.8), 6.0, 9.0, grams_per_litre=50.0)
    # It draws half as much again as it should, yet the ledger has a weak solution: one is wrong.
    assert (found.remedy, found.reason) == (Remedy.FIND_OUT, Reason.WATER_WOULD_WEAKEN)
    assert "40 g/L" in advice_text(found)


def test_what_draws_no_more_than_it_should_is_left_alone() -> None:
    assert told(Draw(7.0, 6.0, 1.8), 7.5, 9.0).remedy is Remedy.NOTHING


@pytest.mark.parametrize(
    ("amps", "aim", "litres"), [(0.0, 5.0, 9.0), (9.0, 0.0, 9.0), (9.0, 5.0, 0.0)]
)
def test_amounts_of_nothing_are_refused(amps: float, aim: float, litres: float) -> None:
    with pytest.raises(WrongUse):
        told(Draw(amps, 6.0, 1.8), aim, litres)


def test_a_baths_own_dilutions_correct_the_exponent() -> None:
    first, second = learned_exponent([]), learned_exponent([(0.75, 0.75**0.7), (0.8, 0.8**0.7)])
    assert abs(second.n - 0.7) < abs(first.n - 0.7) / 3.0
    assert second.sd < first.sd
    assert second.dilutions == 2
    assert learned_exponent([(1.2, 0.9), (0.5, 0.0)]) == first


def test_the_error_of_a_promise_has_a_sign() -> None:
    assert promise_error(7.5, 7.2) == pytest.approx(-0.04)


def test_an_aged_caustic_bath_conducts_less_not_more() -> None:
    # An example of ageing, published by the STERC in January 2002: 75 g/L of caustic became 38 g/L
    # with 92 g/L of carbonate. Even if both conducted as if the other were not there, which they do
    # not, it falls; so a rise is never put down to age alone.
    caustic, carbonate = dict(CAUSTIC_AT_20), dict(CARBONATE_AT_20)
    # 52.7 g/L is 5 % of caustic, 105 g/L is 10 % of carbonate by mass (densities, CRC Handbook).
    new = caustic[5.0] * (75.0 / 52.7) ** exponent()
    aged = caustic[5.0] * (38.0 / 52.7) ** exponent() + carbonate[10.0] * (92.0 / 105.0)
    assert aged < 0.85 * new
