"""The judge's own bench against what is known of cells, supplies and meters."""

import math
from itertools import pairwise

import pytest

from benchmarks.hazards.bench import Bench
from benchmarks.hazards.cell import Cell
from benchmarks.hazards.draw import Draw, draw
from benchmarks.hazards.supply import AtLimit


def calm(number: int) -> Draw:
    """A bench without noise or drift."""
    sizes = draw("bench", number)
    sizes.bubble_share = sizes.warm_per_hour = 0.0
    return sizes


def settled(cell: Cell, volts: float) -> float:
    """The steady amps at so many volts."""
    amps = 0.0
    for _ in range(4000):
        amps = cell.amps_at(volts)
        cell.step(0.02, volts, amps)
    return amps


@pytest.mark.parametrize("number", range(5))
def test_the_cell_takes_the_amps_that_were_drawn(number: int) -> None:
    sizes = calm(number)
    assert settled(Cell(sizes), sizes.volts) == pytest.approx(sizes.amps, rel=0.01)


@pytest.mark.parametrize("number", range(5))
def test_the_tangent_at_the_steady_point_cuts_the_volts_at_the_drawn_intercept(number: int) -> None:
    sizes = calm(number)
    cell = Cell(sizes)
    low, high = (settled(cell, sizes.volts + step) for step in (-0.2, 0.2))
    siemens = (high - low) / 0.4
    assert sizes.volts - sizes.amps / siemens == pytest.approx(sizes.e0_volts, abs=0.05)


def test_the_electrodes_follow_tafels_line() -> None:
    """Bard and Faulkner, Electrochemical Methods, 2nd ed., section 3.4.3: overpotential grows by
    the slope times the logarithm of the current."""
    sizes = calm(0)
    cell = Cell(sizes)
    own = []
    for share in (0.5, 1.0):
        for _ in range(4000):
            cell.step(0.02, cell.volts_at(share * sizes.amps), share * sizes.amps)
        own.append(cell.own_volts)
    assert own[1] - own[0] == pytest.approx(sizes.b_volts * math.log(2.0), rel=0.01)


def test_a_dead_output_shows_the_cells_own_volts_for_a_while() -> None:
    sizes = calm(1)
    sizes.rest_s, sizes.output_decay_s = 30.0, 0.1
    bench = Bench(sizes)
    bench.strip(30.0)
    bench.switch(False)
    bench.run(2.0)
    assert bench.supply.amps == 0.0
    assert 1.0 < bench.supply.volts < 3.0
    bench.run(300.0)
    assert bench.supply.volts < 0.5


def test_a_supply_that_holds_settles_at_its_limit_after_a_swing() -> None:
    sizes = calm(2)
    sizes.crossover_s, sizes.crossover_damping = 0.5, 0.4
    bench = Bench(sizes, AtLimit.HOLDS)
    bench.strip(30.0)
    bench.touch(2.0 * sizes.limit_amps)
    amps = []
    for _ in range(100):
        bench.run(0.02)
        amps.append(bench.supply.amps)
    assert max(amps[:5]) > 1.1 * sizes.limit_amps
    assert min(amps) < 0.98 * sizes.limit_amps
    bench.run(5.0)
    assert bench.supply.amps == pytest.approx(sizes.limit_amps, rel=0.01)
    assert bench.supply.volts < 0.9 * sizes.volts


def test_a_supply_that_trips_cuts_out_after_its_delay_only() -> None:
    sizes = calm(3)
    sizes.trip_delay_s = 0.5
    bench = Bench(sizes)
    bench.strip(30.0)
    bench.touch(1.3 * sizes.limit_amps)
    bench.run(0.4)
    assert not bench.supply.has_cut_out
    bench.run(0.2)
    assert bench.supply.has_cut_out


def test_the_meter_repeats_its_value_between_its_own_updates() -> None:
    sizes = draw("bench", 4)
    sizes.rate_hz, sizes.meter_update_s = 10.0, 0.5
    sizes.amps_step, sizes.missed_share = 0.001, 0.0
    bench = Bench(sizes)
    bench.strip(30.0)
    amps = [reading.amps for reading in bench.played.readings[-100:]]
    changes = sum(one != other for one, other in pairwise(amps))
    assert 15 <= changes <= 21


def test_the_same_seed_plays_the_same_scene() -> None:
    first, again = (Bench(draw("A1", 7)) for _ in range(2))
    first.strip(20.0)
    again.strip(20.0)
    assert first.played.readings == again.played.readings
