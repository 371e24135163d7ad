"""Leads against the wire table and the standards of copper."""

import pytest

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
