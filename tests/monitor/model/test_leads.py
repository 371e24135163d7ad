"""Leads against the wire table and the standards of copper."""

import math

import pytest

from monitor.model.fittings import Conductor, Fittings
from monitor.model.leads import COPPER_PER_KELVIN, OHM_M_AT_20, Leads, gauge_mm

METRES_PER_1000_FT = 304.8
# ohm per 1000 ft at 20 C, American wire gauge table, hyperphysics.phy-astr.gsu.edu wirega.html.
TABLE = [(6, 0.3951), (8, 0.6282), (10, 0.9989), (12, 1.588), (14, 2.525), (16, 4.016)]
TABLE += [(18, 6.385), (20, 10.15), (22, 16.14), (24, 25.67)]


@pytest.mark.parametrize(("awg", "ohms"), TABLE)
def test_a_gauge_has_the_resistance_of_the_wire_table(awg: int, ohms: float) -> None:
    assert Leads(awg, METRES_PER_1000_FT).ohms() == pytest.approx(ohms, rel=1e-3)


def test_copper_is_that_of_the_standard() -> None:
    # IEC 60028: 1.7241e-8 ohm m and 0.00393 /K at 20 C; 20 to 60 C is a factor of 1.1572.
    assert pytest.approx(1.7241e-8, rel=1e-4) == OHM_M_AT_20
    assert COPPER_PER_KELVIN == 0.00393
    leads = Leads(10, 4.0)
    assert leads.ohms(60.0) / leads.ohms(20.0) == pytest.approx(1.1572)


def test_gauges_follow_b258() -> None:
    # ASTM B258: gauge 36 is 0.127 mm (0.0050 in), 0000 is 11.684 mm (0.4600 in).
    assert gauge_mm(36) == pytest.approx(0.127)
    assert gauge_mm(-3) == pytest.approx(11.684, rel=1e-4)


def test_drop_and_watts_of_a_loop() -> None:
    # 4 m of gauge 10 at 30 A: 0.393 V and 11.8 W, from the wire table above.
    ohms = Leads(10, 4.0).ohms()
    assert ohms * 30.0 == pytest.approx(0.393, abs=0.001)
    assert ohms * 30.0**2 == pytest.approx(11.8, abs=0.05)


@pytest.mark.parametrize(("awg", "amps"), [(14, 25), (10, 40), (4, 105), (0, 195), (-3, 300)])
def test_a_gauge_carries_what_the_code_gives_it_in_free_air(awg: int, amps: float) -> None:
    # NFPA 70, National Electrical Code, table 310.17, 60 C (from memory).
    assert Leads(awg, 2.0).rated_amps == pytest.approx(amps)


def test_thicker_leads_carry_more_between_the_gauges_of_the_table_too() -> None:
    amps = [Leads(0.5 * half, 2.0).rated_amps for half in range(-6, 61)]
    assert amps == sorted(amps, reverse=True)


@pytest.mark.parametrize("awg", [18, 14, 10, 6, 2, -3])
def test_rated_amps_make_no_more_heat_than_air_takes_from_a_wire(awg: int) -> None:
    # Still air takes 5 to 30 W from each square metre and kelvin of a thin cylinder, radiation
    # counted (Incropera, Fundamentals of Heat and Mass Transfer, ch. 9; from memory); 30 K are
    # allowed, and some 0.75 mm of insulation make the wire thicker.
    leads = Leads(awg, 1.0)
    watts = leads.rated_amps**2 * leads.ohms(60.0)
    surface_m2 = math.pi * 1e-3 * (gauge_mm(awg) + 1.5)
    assert 5.0 <= watts / surface_m2 / 30.0 <= 30.0


def test_leads_that_the_settings_name_as_a_conductor_are_not_watched_twice() -> None:
    leads = Leads(10, 4.0)
    named = Conductor("long lead", 30.0, 200.0)
    assert Fittings((named,), leads).heated == (named,)
    sleeve = Conductor("sleeve", 8.0, 90.0)
    assert [one.name for one in Fittings((sleeve,), leads).heated] == ["sleeve", "leads"]
    assert Fittings((sleeve,)).heated == (sleeve,)
