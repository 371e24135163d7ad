"""A strip reckoned before the current flows, against the same equations solved by scipy."""

import math

import pytest
from scipy.integrate import solve_ivp  # type: ignore[import-untyped]  # scipy ships no types

from monitor.analysis.bath_filter import CELL_VOLTS, EXCHANGE, REST_DRIFT
from monitor.analysis.known_bath import KnownBath
from monitor.analysis.planned_strip import PAUSES_S, TENTH, Level, PlannedStrip
from monitor.model.bath_prior import JOULES_PER_LITRE_KELVIN, LOSS, default_prior
from monitor.model.strip_plan import Range

LITRES, PER_KELVIN, LIMIT = 9.0, 0.0175, 10.0
CHARGE = Range(0.8, 1.0, 1.25)


def strip(
    amps: float,
    *,
    volts: float = 9.0,
    warmth: float = 0.0,
    is_now: bool = True,
    charge: Range | None = CHARGE,
    most: float | None = None,
    spread: float = 0.05,
) -> PlannedStrip:
    known = KnownBath(LIMIT, LITRES, PER_KELVIN)
    level = Level(Range(amps * (1 - spread), amps, amps / (1 - spread)), volts)
    return PlannedStrip(known, level, warmth, is_now, LIMIT, most, charge)


@pytest.mark.parametrize(("amps", "volts"), [(5.0, 9.0), (7.5, 9.0), (5.0, 6.0)])
def test_amps_time_and_warming_are_those_of_the_equations(amps: float, volts: float) -> None:
    # The model: d theta/dt = c V I - exp(l) theta; ln g = b + d t + s ln(1 + a theta).
    drift, strength, loss_log, _ = default_prior(LITRES).means
    loss, c = math.exp(loss_log), EXCHANGE / (JOULES_PER_LITRE_KELVIN * LITRES)

    def flow(t: float, theta: float) -> float:
        grown = math.exp(drift * t) * (1.0 + PER_KELVIN * theta) ** strength
        return float(amps * grown)

    def slope(t: float, state: list[float]) -> list[float]:
        now = flow(t, state[0])
        return [c * volts * now - loss * state[0], now / 3600.0]

    solved = solve_ivp(slope, (0.0, 4000.0), [0.0, 0.0], max_step=5.0, dense_output=True)
    end_s = next(t for t in range(4000) if solved.sol(t)[1] >= CHARGE.middle)
    outlook = strip(amps, volts=volts).at(volts)
    assert outlook.seconds is not None
    assert outlook.amps.middle == pytest.approx(amps, rel=0.01)
    assert outlook.seconds.middle == pytest.approx(end_s, rel=0.02)
    assert outlook.warming == pytest.approx(solved.sol(end_s)[0], rel=0.05)
    assert outlook.end_amps == pytest.approx(flow(end_s, solved.sol(end_s)[0]), rel=0.01)


def test_the_range_of_the_amps_is_that_of_the_level() -> None:
    outlook = strip(5.0, spread=0.2).at(9.0)
    assert outlook.amps.low == pytest.approx(4.0, rel=0.02)
    assert outlook.amps.high == pytest.approx(6.25, rel=0.02)


def test_the_amps_at_other_volts_go_with_the_volts_over_the_intercept() -> None:
    at_nine, at_six = strip(5.0).at(9.0), strip(5.0).at(6.0)
    share = (6.0 - CELL_VOLTS) / (9.0 - CELL_VOLTS)
    assert at_six.amps.middle == pytest.approx(share * at_nine.amps.middle, rel=0.01)
    # What is not known of the intercept widens them.
    assert at_six.amps.high / at_six.amps.low > at_nine.amps.high / at_nine.amps.low


def test_the_volts_to_choose_end_without_a_cut_out_and_a_tenth_more_does_not() -> None:
    planned = strip(9.4)
    assert not planned.will_do(9.0)
    best = planned.highest(4.0, 9.0)
    assert best is not None
    assert planned.will_do(best)
    assert not planned.will_do(round(best + 0.1, 1))
    assert planned.at(9.0).chance_of_trip > planned.at(best).chance_of_trip


def test_a_part_gets_no_more_than_it_stands() -> None:
    planned = strip(5.0, most=4.0)
    best = planned.highest(3.0, 9.0)
    assert best is not None
    assert planned.at(best).end_amps <= 4.0 * 1.001
    assert not planned.will_do(9.0)


def test_a_rest_cools_by_newtons_law_and_the_amps_fall_with_it() -> None:
    warmth, rest_s = 12.0, 1800.0
    loss = math.exp(default_prior(LITRES).means[LOSS])
    left = warmth * math.exp(-loss * rest_s)
    warm, rested = (
        strip(9.5, warmth=warmth).at(9.0),
        strip(9.5, warmth=warmth).cooled(rest_s).at(9.0),
    )
    colder = (1.0 + PER_KELVIN * left) / (1.0 + PER_KELVIN * warmth)
    strength = default_prior(LITRES).means[1]
    # A tenth of its drift goes on meanwhile.
    drifted = math.exp(REST_DRIFT * default_prior(LITRES).means[0] * rest_s)
    expected = warm.amps.middle * colder**strength * drifted
    assert rested.amps.middle == pytest.approx(expected, rel=0.01)


def test_without_a_charge_it_looks_for_twenty_minutes() -> None:
    outlook = strip(5.0, charge=None).at(9.0)
    assert outlook.seconds is None
    assert outlook.watched_s == 1200.0


@pytest.mark.parametrize("amps", [0.001, 0.5, 9.99, 50.0, 5000.0])
@pytest.mark.parametrize("spread", [0.01, 0.9])
def test_no_level_breaks_it(amps: float, spread: float) -> None:
    planned = strip(amps, spread=spread)
    outlook = planned.at(9.0)
    assert 0.0 <= outlook.chance_of_trip <= 1.0001
    assert all(math.isfinite(value) for value in (*outlook.amps, outlook.end_amps))
    assert planned.highest(4.0, 9.0) is None or planned.will_do(planned.highest(4.0, 9.0) or 0.0)


def test_the_pauses_are_told_in_their_order() -> None:
    assert list(PAUSES_S) == sorted(PAUSES_S)
    assert pytest.approx(1.28155, abs=1e-4) == TENTH  # the 90 % point of a normal distribution
