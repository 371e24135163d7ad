"""Volts over their window and under it, and amps that stand close to the limit."""

import pytest

from monitor.alarms.board import Board
from monitor.alarms.volts_conditions import VoltsConditions
from monitor.model.alarm import AlarmName, Change, Priority
from monitor.model.card import JobCard, Way
from monitor.model.estimate import Charge, Estimate, Forecast
from monitor.model.finding import Finding
from monitor.model.fittings import Fittings, VoltsWindow
from monitor.model.run import LimitKind
from monitor.model.step import JobStep
from tests.monitor.alarms.rows import Alone
from tests.monitor.analysis.traces import sample

LOW, HIGH = AlarmName.OUTSIDE_VOLTAGE_WINDOW, AlarmName.VOLTS_HIGH


def at(
    conditions: VoltsConditions,
    volts: float,
    t_s: float = 1.0,
    flows: bool = True,
    is_asked_down: bool = False,
) -> dict[str, Finding]:
    """What is found of the window, by the alarm's name."""
    findings = conditions.judge_window(t_s, volts, flows, is_asked_down)
    return {finding.alarm: finding for finding in findings}


def usual(way: Way | None = Way.SWAB) -> VoltsConditions:
    """With a swab: 6 to 12 V, anodic (common practice, no source), at a supply of 10 A."""
    return VoltsConditions(10.0, Fittings().for_card(JobCard(way=way)))


def raised(conditions: VoltsConditions, volts: list[float]) -> list[tuple[str, Change, float]]:
    """What the board makes of these volts, two a second."""
    board, changes = Board(), []
    for n, value in enumerate(volts):
        findings = conditions.judge_window(n * 0.5, value, True, False)
        events = board.update(sample(n, n * 0.5, value, 5.0), findings, Forecast())
        changes += [(event.alarm, event.change, event.t_s) for event in events]
    return changes


@pytest.mark.parametrize(
    ("way", "volts", "is_low", "is_high"),
    [
        # Common practice, no source; tanks are published at 4 to 6 V (NMFRC, March 2007).
        (Way.SWAB, 5.89, True, False),
        (Way.SWAB, 5.95, False, False),
        (Way.SWAB, 6.0, False, False),
        (Way.SWAB, 12.05, False, False),
        (Way.SWAB, 12.2, False, True),
        (Way.TANK, 2.39, True, False),
        (Way.TANK, 2.45, False, False),
        (Way.TANK, 5.0, False, False),
        (Way.TANK, 12.2, False, True),
        (None, 5.0, False, False),
    ],
)
def test_the_window_of_volts_is_that_of_tank_or_swab_unless_set(
    way: Way | None, volts: float, is_low: bool, is_high: bool
) -> None:
    found = at(usual(way), volts)
    assert (found[LOW].holds, found[HIGH].holds) == (is_low, is_high)


def test_volts_without_current_are_no_strip() -> None:
    found = at(usual(), 13.0, flows=False)
    assert [finding.holds for finding in found.values()] == [False, False]


@pytest.mark.parametrize(
    ("volts", "priority"), [(17.9, Priority.MEDIUM), (18.0, Priority.HIGH), (24.0, Priority.HIGH)]
)
def test_volts_from_one_and_a_half_times_the_upper_end_are_of_high_priority(
    volts: float, priority: Priority
) -> None:
    found = at(usual(), volts)[HIGH]
    assert (found.priority, found.action) == (priority, "Turn down to 12.0 V.")


def test_volts_that_go_far_higher_are_told_anew() -> None:
    changes = raised(usual(), [8.0] * 10 + [14.0] * 20 + [20.0] * 10)
    assert changes == [
        (HIGH, Change.RAISED, 7.0),
        (HIGH, Change.RETURNED, 15.0),
        (HIGH, Change.RAISED, 15.0),
    ]


def test_low_volts_wait_ten_seconds_and_return_in_their_dead_band() -> None:
    changes = raised(usual(), [5.5] * 40 + [5.97] * 60)
    assert changes == [(LOW, Change.RAISED, 10.0), (LOW, Change.RETURNED, 35.0)]


@pytest.mark.parametrize("ramp_s", [2.0, 30.0, 90.0])
def test_a_soft_start_is_not_under_the_window_on_its_way_up(ramp_s: float) -> None:
    steps = round((ramp_s + 30.0) / 0.5)
    assert raised(usual(), [min(8.0 * n * 0.5 / ramp_s, 8.0) for n in range(steps)]) == []


def test_a_soft_start_that_ends_under_the_window_is_told_ten_seconds_later() -> None:
    ((alarm, change, t_s),) = raised(usual(), [min(5.5 * n * 0.5 / 30.0, 5.5) for n in range(160)])
    assert (alarm, change) == (LOW, Change.RAISED)
    assert 40.0 <= t_s <= 44.0


def test_a_start_over_the_window_does_not_wait_for_the_ramp() -> None:
    conditions = usual()
    holds = [at(conditions, float(volts), volts * 0.5)[HIGH].holds for volts in range(14)]
    assert holds == [False] * 13 + [True]


def test_volts_that_a_hand_brought_down_from_inside_are_not_told() -> None:
    conditions = usual()
    assert raised(conditions, [7.0] * 10 + [5.0] * 200) == []
    # Off for a minute and more: the next part hangs there, and nobody has turned down for it.
    for t_s in (105.0, 170.0):
        at(conditions, 0.0, t_s, flows=False)
    # Up from nothing, they first have to stand.
    assert not at(conditions, 5.0, 180.0)[LOW].holds
    assert at(conditions, 5.0, 184.0)[LOW].holds


def test_volts_are_not_asked_up_while_something_asks_for_fewer() -> None:
    assert not at(usual(), 5.0, is_asked_down=True)[LOW].holds


@pytest.mark.parametrize(("amps", "is_told"), [(9.1, False), (8.9, True)])
def test_volts_are_not_asked_up_near_the_limit(amps: float, is_told: bool) -> None:
    fittings = Fittings().for_card(JobCard(way=Way.SWAB))
    alone = Alone(10.0, LimitKind.TRIPS, 5.0, fittings)
    nothing = Estimate(0, 0, Forecast(), Charge())
    for second in range(30):
        found = alone.judge(sample(second, float(second), 5.0, amps), nothing, stands=False)
    assert {one.alarm: one for one in found}[LOW].holds is is_told


def test_the_window_is_that_of_the_step_on_the_card() -> None:
    given = Fittings(steps=(JobStep("clean", (4.0, 8.0), (0.0, 3.0)), JobStep("rinse")))
    clean, rinse, strip = (
        VoltsConditions(10.0, given.for_card(JobCard(step=name))) for name in ("clean", "rinse", "")
    )
    assert not at(clean, 5.0)[LOW].holds
    told = at(clean, 9.0)[HIGH]
    assert (told.holds, told.message) == (True, "9.0 V, the window of clean ends at 8 V")
    assert not at(rinse, 2.0)[LOW].holds
    # A card without a step is a strip's: 2.5 to 12 V by default.
    assert at(strip, 2.0)[LOW].holds


def test_a_stack_of_cells_has_no_usual_window_but_keeps_its_own() -> None:
    usual_steps = VoltsConditions(40.0, Fittings(cells=34).for_card(JobCard()))
    assert not at(usual_steps, 72.0)[HIGH].holds
    own = Fittings(cells=34, steps=(JobStep("strip", (60.0, 70.0)),))
    assert at(VoltsConditions(40.0, own.for_card(JobCard())), 72.0)[HIGH].holds


def margins(amps: list[float], is_held: bool = False) -> list[Finding]:
    """What is found of the margin at 9 V behind 1.8 V, once a second."""
    conditions = usual()
    return [
        conditions.judge_margin(float(n), 9.0, value, 1.8, is_held) for n, value in enumerate(amps)
    ]


def test_a_small_margin_is_told_after_ten_seconds_with_the_volts_to_set() -> None:
    found = margins([9.6] * 12)
    assert [finding.holds for finding in found] == [False] * 10 + [True] * 2
    # 1.8 V and 85/96 of the other 7.2 V (Ohm's law): 8.175 V, rounded down.
    assert found[-1].action == "Turn down to 8.1 V."


def test_a_small_margin_has_a_dead_band_and_none_where_the_current_is_held() -> None:
    found = margins([9.6] * 11 + [9.4, 9.2, 9.4])
    assert [finding.holds for finding in found[10:]] == [True, True, False, False]
    assert not any(finding.holds for finding in margins([9.9] * 20, is_held=True))
    assert not any(finding.holds for finding in margins([11.5] * 20))


def test_a_cut_out_ahead_names_the_volts_to_set_where_the_window_has_room() -> None:
    conditions = VoltsConditions(10.0, Fittings(window=VoltsWindow(6.0, 12.0)))
    way = conditions.way_down(9.0, 9.8, 1.8)
    assert way == "Turn down to 8.0 V. Or pause and let the bath cool."
    assert conditions.way_down(6.2, 9.8, 1.8) == "", "5.6 V is below the window"
    assert conditions.way_down(9.0, 0.0, 1.8) == ""
