"""A supply that limits, near its limit and at it."""

import math
from random import Random

import pytest

from drivers.reading import Mode
from monitor.analysis.chain import Chain
from monitor.analysis.holding import Holding
from monitor.model.run import LimitKind
from monitor.model.sample import Sample
from tests.monitor.analysis.traces import sample

LIMIT = 20.0
E0 = 2.0


def climb(seconds: float, per_minute: float = 0.015, wander: float = 0.004) -> list[Sample]:
    """9 V into a bath that comes to the limit after 300 s; from there the volts give way."""
    draw, slow, rows = Random(5), 0.0, []
    for n in range(int(seconds / 0.5)):
        slow = 0.98 * slow + 0.2 * wander * draw.gauss(0.0, 1.0)
        wanted = LIMIT * math.exp(per_minute / 60.0 * (n * 0.5 - 300.0) + slow)
        amps = min(wanted, LIMIT)
        volts = E0 + (9.0 - E0) * amps / wanted + 0.002 * draw.gauss(0.0, 1.0)
        rows.append(sample(n, n * 0.5, volts, amps * (1.0 + 0.003 * draw.gauss(0.0, 1.0))))
    return rows


def holds_from(rows: list[Sample]) -> float | None:
    holding = Holding(LIMIT, is_said_to_hold=True)
    for row in rows:
        assert row.volts is not None
        assert row.amps is not None
        if holding.update(row.t_s, row.volts, row.amps, Mode.UNKNOWN):
            return row.t_s
    return None


def test_amps_that_only_come_near_are_not_held() -> None:
    """At 1.5 % a minute the amps come over 98.5 % of the limit a minute before they are held."""
    near_s = next(row.t_s for row in climb(600.0) if (row.amps or 0.0) > 0.985 * LIMIT)
    held_s = holds_from(climb(600.0))
    assert near_s < 260.0
    assert held_s is not None
    assert 270.0 < held_s < 320.0


def test_the_forecast_goes_on_till_the_current_is_held() -> None:
    chain = Chain(limit_amps=LIMIT, poll_s=0.5, limit_kind=LimitKind.HOLDS)
    told = {row.t_s: chain.update(row).forecast for row in climb(600.0)}
    assert all(told[t_s / 2.0].trip_in_s is not None for t_s in range(300, 520))
    assert told[590.0].why == "supply is holding the current"


@pytest.mark.parametrize("mode", [Mode.CONSTANT_VOLTAGE, Mode.CONSTANT_CURRENT])
def test_what_the_supply_says_itself_goes_first(mode: Mode) -> None:
    holding = Holding(LIMIT, is_said_to_hold=True)
    held = {holding.update(n * 0.5, 9.0 - 0.01 * n, LIMIT, mode) for n in range(100)}
    assert held == {mode is Mode.CONSTANT_CURRENT}


@pytest.mark.parametrize("share", [0.5, 0.8, 1.0])
def test_a_supply_holds_whatever_the_settings_say(share: float) -> None:
    """Its own knob may stand anywhere under the limit that the settings name."""
    holding = Holding(LIMIT, is_said_to_hold=False)
    amps = share * LIMIT
    assert not any(holding.update(n * 0.5, 9.0, amps, Mode.UNKNOWN) for n in range(40))
    held = [holding.update(20.0 + n * 0.5, 9.0 - 0.01 * n, amps, Mode.UNKNOWN) for n in range(99)]
    assert not held[0]
    assert all(held[25:])
    assert holding.amps == pytest.approx(amps)


def test_a_hand_that_turns_down_holds_nothing_though_the_amps_climb_back() -> None:
    holding = Holding(LIMIT, is_said_to_hold=False)
    for n in range(40):
        holding.update(n * 0.5, 9.0, 15.0, Mode.UNKNOWN)
    turned = [(8.4, 13.75 + 0.05 * n) for n in range(60)]
    assert not any(
        holding.update(20.0 + n * 0.5, *seen, Mode.UNKNOWN) for n, seen in enumerate(turned)
    )


def test_it_lets_go_once_the_amps_have_fallen_and_not_with_one_low_reading() -> None:
    holding = Holding(LIMIT, is_said_to_hold=True)
    for n in range(80):
        held = holding.update(n * 0.5, 9.0, LIMIT, Mode.UNKNOWN)
    assert held
    assert holding.update(40.0, 9.0, 0.97 * LIMIT, Mode.UNKNOWN)
    for n in range(20):
        held = holding.update(40.5 + n * 0.5, 9.0, 0.95 * LIMIT, Mode.UNKNOWN)
    assert not held


def test_a_bath_that_comes_slowly_to_the_limit_is_not_held_before_it_is_there() -> None:
    """1.5 % a minute needs 20 s for the last half percent; the volts stand meanwhile."""
    holding = Holding(LIMIT, is_said_to_hold=True)
    assert not any(
        holding.update(n * 0.5, 9.0, LIMIT * (0.97 + 0.015 / 120.0 * n), Mode.UNKNOWN)
        for n in range(240)
    )


def test_amps_that_stop_dead_at_the_limit_after_switch_on_are_held() -> None:
    """The volts that were set were never seen: a touch was there before the output came on."""
    holding = Holding(LIMIT, is_said_to_hold=False)
    rise = [(1.4, 0.2), (2.9, 0.5), (4.5, 0.9)]
    for n, (volts, share) in enumerate(rise):
        assert not holding.update(n * 0.5, volts, share * LIMIT, Mode.UNKNOWN)
    held = [
        holding.update(1.5 + n * 0.5, 5.05, LIMIT + 0.005 * (n % 2), Mode.UNKNOWN)
        for n in range(60)
    ]
    assert held.index(True) <= 6
    assert all(held[6:])
    assert holding.is_from_start
    assert not holding.update(32.0, 6.2, 0.7 * LIMIT, Mode.UNKNOWN)


@pytest.mark.parametrize("share", [0.9, 0.98, 1.02])
def test_amps_that_stop_beside_the_limit_are_the_baths(share: float) -> None:
    holding = Holding(LIMIT, is_said_to_hold=False)
    rise = [0.2, 0.5, 0.9, *[share] * 60]
    assert not any(
        holding.update(n * 0.5, min(9.0, 2.0 + 2.0 * n), each * LIMIT, Mode.UNKNOWN)
        for n, each in enumerate(rise)
    )


def held_by_hand(seed: int, step_volts: float, step_amps: float, noise: float) -> bool:
    """Whether a hand that turns the volts down by 4 % in 20 s is taken for a supply that holds."""
    draw, gas, holding = Random(seed), 0.0, Holding(2.0 * LIMIT, is_said_to_hold=False)
    for n in range(150):
        gas = 0.8 * gas + 0.6 * noise * draw.gauss(0.0, 1.0)
        volts = 8.5 * (1.0 - 0.04 * min(max((n - 120) / 20.0, 0.0), 1.0))
        amps = 0.9 * LIMIT * (volts - E0) / (8.5 - E0) * (1.0 + gas)
        volts = step_volts * round(volts / step_volts)
        if holding.update(float(n), volts, step_amps * round(amps / step_amps), Mode.UNKNOWN):
            return True
    return False


@pytest.mark.parametrize(("step_volts", "step_amps"), [(0.1, 0.1), (0.01, 0.01)])
def test_noise_does_not_hide_that_the_amps_follow_a_hand(
    step_volts: float, step_amps: float
) -> None:
    """Gas on the electrodes wanders by 0.7 % within seconds; the voltmeter shows 1 % or 0.1 %."""
    held = [seed for seed in range(200) if held_by_hand(seed, step_volts, step_amps, 0.007)]
    assert held == []
