"""Conductance and polarisation voltage on cells with known answers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.analysis.conductance import PolarisationVoltage


@given(st.floats(1.05, 2.75), st.floats(0.2, 8.0))
def test_two_levels_of_a_clean_cell_give_its_polarisation_voltage(
    e0: float, siemens: float
) -> None:
    learned = PolarisationVoltage()
    assert learned.learn(6.0, siemens * (6.0 - e0), 9.0, siemens * (9.0 - e0), ratio_sd=1e-4)
    assert learned.volts == pytest.approx(e0, abs=1e-3)


def test_volts_over_amps_is_not_the_baths_resistance() -> None:
    # At least 1.229 V are polarisation where oxygen is made (CRC Handbook, Gibbs energies): with
    # 0.5 ohm behind 1.229 V, 6 V over amps reads 26 % too much.
    amps_at = {volts: (volts - 1.229) / 0.5 for volts in (6.0, 9.0)}
    learned = PolarisationVoltage()
    learned.learn(6.0, amps_at[6.0], 9.0, amps_at[9.0], ratio_sd=1e-5)
    assert (6.0 - learned.volts) / amps_at[6.0] == pytest.approx(0.5, abs=1e-3)
    assert 6.0 / amps_at[6.0] == pytest.approx(0.629, abs=1e-3)


@pytest.mark.parametrize(
    ("volts_2", "amps_2"),
    [(6.2, 5.9), (9.0, 4.0), (9.0, 5.75), (9.0, 20.0)],
    ids=["too small a step", "amps fell", "as if E0 were far negative", "as if E0 were 4.8 V"],
)
def test_a_pair_that_no_cell_gives_is_refused(volts_2: float, amps_2: float) -> None:
    learned = PolarisationVoltage()
    assert not learned.learn(6.0, 5.7, volts_2, amps_2, ratio_sd=0.01)
    assert learned.volts == 1.8


def test_what_is_known_well_outweighs_a_doubtful_pair() -> None:
    learned = PolarisationVoltage()
    learned.learn(6.0, 4.0, 9.0, 7.0, ratio_sd=0.001)
    sure = learned.volts
    learned.learn(6.0, 4.7, 6.5, 5.2, ratio_sd=0.05)
    assert learned.volts == pytest.approx(sure, abs=0.02)
    assert learned.sd < 0.05
