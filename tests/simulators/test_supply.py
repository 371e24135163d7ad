"""The supply's numbered rules, each with its test."""

import math
from typing import Literal

import pytest

from simulators.cell import Bath, Cell, Circuit
from simulators.supply import Mode, Protection, Supply, SupplyPlate

DT_S = 0.05


def cell_of(siemens: float) -> Cell:
    """A resistor."""
    return Cell(
        Bath("test", 1000.0, celsius=25.0), Circuit(siemens, 0.0, lead_ohms=0.0), None, DT_S
    )


def supply_of(
    at_limit: Literal["trips", "holds"] = "trips",
    cut_out: Literal["delay", "thermal"] = "delay",
    limit_amps: float = 10.0,
    thermal_s: float = 180.0,
    resets_itself: bool = False,
    soft_start_s: float = 3.0,
) -> Supply:
    plate = SupplyPlate(
        "test",
        limit_amps,
        at_limit,
        cut_out,
        delay_s=0.5,
        thermal_s=thermal_s,
        cool_down_s=30.0,
        soft_start_s=soft_start_s,
        ceiling_amps=60.0,
        resets_itself=resets_itself,
    )
    return Supply(plate, DT_S)


def switch_on(supply: Supply, volts: float) -> None:
    supply.volts_set = volts
    assert supply.switch_output(True)


def run(supply: Supply, cell: Cell, seconds: float) -> None:
    for _ in range(round(seconds / DT_S)):
        supply.step(cell)


def doing(supply: Supply) -> str:
    return supply.mode.value


def test_it_begins_with_its_output_off_and_nothing_set() -> None:
    supply = supply_of()
    supply.step(cell_of(1.0))
    assert (supply.mode, supply.volts, supply.amps) == (Mode.OUTPUT_OFF, 0.0, 0.0)


def test_rule_1_the_volts_climb_softly_and_follow_the_knob() -> None:
    supply, cell = supply_of(), cell_of(1.0)
    switch_on(supply, 6.0)
    run(supply, cell, 0.75)
    assert supply.volts == pytest.approx(3.0)
    run(supply, cell, 0.75)
    assert supply.volts == pytest.approx(6.0)
    supply.volts_set = 4.0
    run(supply, cell, 0.5)
    assert supply.volts == pytest.approx(4.0)
    assert supply.mode is Mode.CONSTANT_VOLTAGE


def test_rule_2_nothing_draws_more_than_the_ceiling() -> None:
    supply, cell = supply_of(limit_amps=50.0), cell_of(1000.0)
    switch_on(supply, 6.0)
    run(supply, cell, 0.3)
    assert supply.amps == 60.0
    assert supply.volts == pytest.approx(0.06)


def test_rule_3_a_supply_that_limits_holds_the_amps_and_lets_the_volts_fall() -> None:
    supply, cell = supply_of("holds"), cell_of(2.0)
    switch_on(supply, 6.0)
    run(supply, cell, 60.0)
    assert doing(supply) == "constant-current"
    assert supply.amps == 10.0
    assert supply.volts == pytest.approx(5.0)
    cell.siemens = 2.5
    supply.step(cell)
    assert supply.volts == pytest.approx(4.0)
    cell.siemens = 1.0
    supply.step(cell)
    assert doing(supply) == "constant-voltage"
    assert supply.volts == pytest.approx(6.0)


def test_rule_4_it_cuts_out_once_the_amps_stood_too_high_for_the_delay() -> None:
    supply, cell = supply_of(), cell_of(1.7)
    switch_on(supply, 6.0)
    run(supply, cell, 1.5)
    cell.siemens = 1.0
    supply.step(cell)
    cell.siemens = 1.7
    run(supply, cell, 0.45)
    cell.siemens = 1.0
    supply.step(cell)  # one moment under the limit: the delay begins again
    cell.siemens = 1.7
    run(supply, cell, 0.5)
    assert doing(supply) == "constant-voltage"
    run(supply, cell, 0.1)
    assert (supply.mode, supply.protection) == (Mode.CUT_OUT, Protection.OVER_CURRENT)
    assert (supply.volts, supply.amps, supply.trips) == (0.0, 0.0, 1)


@pytest.mark.parametrize(
    ("amps", "before_amps", "seconds"),
    [
        # IEC 60255-149, t = tau ln[(I^2 - Ip^2) / (I^2 - (k Ib)^2)] with k Ib = 20 A, tau = 300 s.
        (24.0, 0.0, 355.69),
        (24.0, 18.0, 107.68),
        (40.0, 0.0, 300.0 * 0.28768),
    ],
)
def test_rule_5_the_thermal_cut_out_comes_when_the_standard_says(
    amps: float, before_amps: float, seconds: float
) -> None:
    supply = supply_of(cut_out="thermal", limit_amps=20.0, thermal_s=300.0, soft_start_s=0.05)
    supply.thermal_image = (before_amps / 20.0) ** 2
    supply.volts_set = amps / 10.0
    cell = cell_of(10.0)
    assert supply.switch_output(True)
    steps = 0
    while not supply.protection:
        supply.step(cell)
        steps += 1
    assert steps * DT_S == pytest.approx(seconds, abs=0.1)
    assert supply.protection is Protection.OVER_TEMPERATURE


def test_rule_5_under_its_limit_the_thermal_image_settles_and_never_trips() -> None:
    supply = supply_of(cut_out="thermal", limit_amps=20.0, thermal_s=30.0)
    switch_on(supply, 1.8)
    run(supply, cell_of(10.0), 300.0)
    assert supply.thermal_image == pytest.approx(0.81, abs=0.001)  # (0.9)^2, IEC 60255-149
    assert supply.mode is Mode.CONSTANT_VOLTAGE


def test_rule_6_it_cannot_be_reset_before_it_has_cooled_down() -> None:
    supply, cell = supply_of(), cell_of(5.0)
    switch_on(supply, 6.0)
    run(supply, cell, 2.0)
    assert doing(supply) == "cut-out"
    assert not supply.reset()
    assert not supply.switch_output(True)
    run(supply, cell, 30.0)
    assert supply.reset()
    assert doing(supply) == "output-off"
    assert supply.tripped_for is Protection.OVER_CURRENT


def test_rule_6_a_hot_supply_waits_until_its_image_has_cooled() -> None:
    supply, cell = supply_of(cut_out="thermal", thermal_s=180.0), cell_of(5.0)
    switch_on(supply, 6.0)
    while not supply.protection:
        supply.step(cell)
    run(supply, cell, 31.0)
    assert not supply.can_be_reset
    run(supply, cell, 180.0 * math.log(1.0 / 0.6) - 31.0 + 1.0)
    assert supply.can_be_reset


def test_rule_7_it_comes_back_by_itself_if_made_so() -> None:
    supply, cell = supply_of(resets_itself=True), cell_of(5.0)
    switch_on(supply, 6.0)
    run(supply, cell, 2.0)
    cell.siemens = 1.0
    run(supply, cell, 33.0)
    assert supply.mode is Mode.CONSTANT_VOLTAGE
    assert supply.amps == pytest.approx(6.0)


def test_rule_7_it_does_not_come_back_once_it_was_switched_off() -> None:
    supply, cell = supply_of(resets_itself=True), cell_of(5.0)
    switch_on(supply, 6.0)
    run(supply, cell, 2.0)
    supply.switch_output(False)
    run(supply, cell, 60.0)
    assert supply.mode is Mode.OUTPUT_OFF


def test_switched_off_it_gives_nothing_at_once() -> None:
    supply, cell = supply_of(), cell_of(1.0)
    switch_on(supply, 6.0)
    run(supply, cell, 5.0)
    supply.switch_output(False)
    assert (supply.volts, supply.amps, supply.mode) == (0.0, 0.0, Mode.OUTPUT_OFF)
