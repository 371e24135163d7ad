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
    # No single pair is surer than 0.02 V, since no cell is quite a straight line.
    assert learned.volts == pytest.approx(e0, abs=3e-3)


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


def test_pairs_far_outside_are_counted_until_one_lies_inside() -> None:
    learned = PolarisationVoltage()
    for _ in range(2):
        # The pairs of one ramp end at the same volts: one change.
        learned.learn(50.0, 4.0, 52.0, 6.0, ratio_sd=0.01)
    learned.learn(52.0, 6.0, 50.0, 4.0, ratio_sd=0.01)
    assert (learned.outside, learned.outside_volts) == (2, 46.0)
    assert learned.bounds == (1.0, 46.0)
    # 2.85 V is as near as chance may bring a cell of 2.8 V.
    learned.learn(6.0, 3.15, 9.0, 6.15, ratio_sd=0.01)
    assert learned.outside == 2
    assert learned.learn(6.0, 4.0, 9.0, 7.0, ratio_sd=0.01)
    assert (learned.outside, learned.outside_volts) == (0, None)


def test_a_cell_that_hardly_draws_yet_teaches_nothing() -> None:
    # Tafel's line (Bard and Faulkner, Electrochemical Methods, 2nd ed., section 3.4.3): at a
    # twentieth of the amps the electrodes take much less than at all of them.
    learned = PolarisationVoltage()
    assert not learned.learn(2.2, 0.1, 9.0, 7.0, ratio_sd=0.01)


def test_what_is_known_well_outweighs_a_doubtful_pair() -> None:
    learned = PolarisationVoltage()
    learned.learn(6.0, 4.0, 9.0, 7.0, ratio_sd=0.001)
    sure = learned.volts
    learned.learn(6.0, 4.7, 6.5, 5.2, ratio_sd=0.05)
    assert learned.volts == pytest.approx(sure, abs=0.02)
    assert learned.sd < 0.05
