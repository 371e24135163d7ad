"""Steps of the amps at volts that stood, and steps of the volts: what is one, and what is none."""

from collections.abc import Iterable

import pytest

from monitor.analysis.bath_draw import BathDraw
from monitor.analysis.drop import Drop, DropWatch
from monitor.analysis.knob import KnobMove, KnobWatch


def drops(readings: Iterable[tuple[float, float]], poll_s: float = 1.0) -> list[Drop]:
    """The drops in volts and amps, one reading each `poll_s`."""
    watch, draw, found = DropWatch(), BathDraw(poll_s), []
    for n, (volts, amps) in enumerate(readings):
        drop = watch.update(n * poll_s, volts, amps, draw)
        found += [] if drop is None else [drop]
        if not watch.is_suspected:
            draw.update(n * poll_s, volts, amps)
    return found


def moves(readings: Iterable[tuple[float, float]], poll_s: float = 1.0) -> list[KnobMove]:
    """The moves of the knob in them."""
    watch, draw, found = KnobWatch(), BathDraw(poll_s), []
    for n, (volts, amps) in enumerate(readings):
        move = watch.update(n * poll_s, volts, amps, draw)
        found += [] if move is None else [move]
        draw.update(n * poll_s, volts, amps)
    return found


@pytest.mark.parametrize("poll_s", [0.1, 0.5, 2.0])
@pytest.mark.parametrize("share", [0.5, 0.8, 0.86])
def test_a_step_down_is_told_four_seconds_later(poll_s: float, share: float) -> None:
    before, after = round(20.0 / poll_s), round(20.0 / poll_s)
    (drop,) = drops([(8.0, 5.0)] * before + [(8.0, 5.0 * share)] * after, poll_s)
    assert (drop.from_amps, drop.to_amps) == pytest.approx((5.0, 5.0 * share))
    assert 4.0 <= drop.t_s - before * poll_s <= 4.0 + poll_s + 0.2


def test_a_knock_and_a_drop_of_water_are_over_before() -> None:
    assert drops([(8.0, 5.0)] * 20 + [(8.0, 4.0)] * 3 + [(8.0, 5.0)] * 20) == []


def test_an_end_of_a_strip_is_too_slow_for_a_step() -> None:
    # 30 % within 15 s is the fastest that was thought of (common practice, no source).
    fall = [(8.0, 5.0 * (1.0 - 0.02 * second)) for second in range(16)]
    assert drops([(8.0, 5.0)] * 30 + fall + fall[-1:] * 30) == []


def test_volts_that_were_turned_down_are_no_step() -> None:
    assert drops([(8.0, 5.0)] * 20 + [(6.0, 3.4)] * 30) == []


def test_steps_from_one_level_are_counted() -> None:
    loose = ([(8.0, 5.0)] * 20 + [(8.0, 3.0)] * 20) * 3
    assert [drop.times for drop in drops(loose)] == [1, 2, 3]
    one_by_one = [(8.0, amps) for amps in (5.0, 4.0, 3.0) for _ in range(20)]
    assert [drop.times for drop in drops(one_by_one)] == [1, 1]


@pytest.mark.parametrize("poll_s", [0.1, 1.0, 2.0])
def test_a_bumped_knob_is_told_with_both_volts(poll_s: float) -> None:
    readings = [(6.0, 4.0)] * round(20.0 / poll_s) + [(11.0, 9.0)] * round(10.0 / poll_s)
    assert moves(readings, poll_s) == [KnobMove(6.0, 11.0)]


def test_small_steps_slow_turns_and_turns_down_are_not_asked_about() -> None:
    assert moves([(6.0, 4.0)] * 20 + [(7.5, 5.5)] * 20) == []
    assert moves([(11.0, 9.0)] * 20 + [(6.0, 4.0)] * 20) == []
    slow = [(6.0 + 0.25 * n, 4.0 + 0.25 * n) for n in range(21)]
    assert moves([(6.0, 4.0)] * 20 + slow + slow[-1:] * 20) == []


def test_a_supply_that_lets_go_of_the_current_is_no_hand() -> None:
    assert moves([(5.0, 8.0)] * 20 + [(9.0, 8.0)] * 20) == []


def test_volts_that_fall_back_at_once_are_not_asked_about() -> None:
    assert moves([(6.0, 4.0)] * 20 + [(11.0, 9.0)] + [(6.0, 4.0)] * 20) == []
