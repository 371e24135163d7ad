"""A dead output: cut out, possibly so, or switched off; by what volts and amps can tell.

That a supply's over-current cut-out comes once the amps have stood over its limit for some tenths
of a second, and takes the volts away at once: common practice, no source. How near the limit the
last samples come is checked against the simulator's supply, whose rules stand in its own file.
"""

import itertools

import pytest

from benchmarks.forecast_runs import play
from benchmarks.forecast_scenes import draw
from drivers.reading import Mode
from monitor.analysis.cut_out import CutOut, CutOutWatch
from monitor.model.sample import Sample
from simulators.rig import Rig
from simulators.scene import load_scene

LIMIT = 10.0


def after(*flowing: tuple[float, float, float], limit_amps: float = LIMIT) -> CutOutWatch:
    """A watch that has seen these times, volts and amps."""
    watch = CutOutWatch(limit_amps)
    for t_s, volts, amps in flowing:
        assert watch.update(t_s, volts, amps) is CutOut.NONE
    return watch


@pytest.mark.parametrize(
    ("amps", "found"),
    [
        (9.99, CutOut.SEEN),
        (9.91, CutOut.SEEN),
        (9.85, CutOut.POSSIBLE),
        (9.05, CutOut.POSSIBLE),
        (8.5, CutOut.NONE),
        (4.0, CutOut.NONE),
    ],
)
def test_how_near_the_limit_it_stood_decides(amps: float, found: CutOut) -> None:
    assert after((0.0, 9.0, amps)).update(0.5, 0.1, 0.0) is found


def test_an_expected_trip_widens_what_is_possible_but_convicts_nobody() -> None:
    assert after((0.0, 9.0, 8.5)).update(0.5, 0.1, 0.0, is_expected=True) is CutOut.POSSIBLE
    assert after((0.0, 9.0, 7.0)).update(0.5, 0.1, 0.0, is_expected=True) is CutOut.NONE


def test_at_the_end_of_the_strip_switching_off_is_what_was_asked_for() -> None:
    watch = after((0.0, 9.0, 9.5))
    assert watch.update(0.5, 0.1, 0.0, is_expected=True, is_off_awaited=True) is CutOut.NONE
    # Over the limit it is a cut-out all the same.
    assert after((0.0, 9.0, 10.1)).update(0.5, 0.1, 0.0, is_off_awaited=True) is CutOut.SEEN


@pytest.mark.parametrize("poll_s", [0.1, 0.2, 0.5, 1.0])
def test_volts_turned_down_first_are_the_operator(poll_s: float) -> None:
    """A knob turned from 9 V to nothing within three seconds, from 99 % of the limit."""
    watch, siemens = CutOutWatch(LIMIT), 9.9 / (9.0 - 2.1)
    found = set()
    for n in range(int(8.0 / poll_s)):
        volts = 9.0 - 3.0 * max(n * poll_s - 3.0, 0.0)
        amps = siemens * max(volts - 2.1, 0.0)
        found.add(watch.update(n * poll_s, max(volts, 0.0), amps))
    assert found == {CutOut.NONE}
    assert watch.turned_down_from == pytest.approx(9.0)


def test_a_meters_mean_over_the_cut_out_is_no_knob() -> None:
    # Half of the meter's time the output was on: half the volts and half the amps.
    watch = after((0.0, 9.0, 9.9), (0.5, 4.5, 4.95))
    assert watch.update(1.0, 0.0, 0.0) is CutOut.SEEN


def test_volts_set_down_as_advised_and_then_off_is_no_cut_out() -> None:
    steps = [(n * 0.5, 9.0, 9.8) for n in range(10)]
    steps += [(5.0 + n * 0.5, 7.5, 7.7) for n in range(4)]
    assert after(*steps).update(7.0, 0.1, 0.0, is_expected=True) is CutOut.NONE


def test_a_supply_that_tells_its_mode_is_waited_for() -> None:
    watch = CutOutWatch(LIMIT)
    watch.update(0.0, 9.0, 9.5, Mode.CONSTANT_VOLTAGE)
    assert watch.update(0.5, 0.1, 0.0, Mode.OUTPUT_OFF) is CutOut.NONE
    assert watch.update(1.0, 0.1, 0.0, Mode.CUT_OUT) is CutOut.SAID
    # One that goes on saying "off" may not know better.
    other = CutOutWatch(LIMIT)
    other.update(0.0, 9.0, 9.5, Mode.CONSTANT_VOLTAGE)
    found = [other.update(0.5 + n * 0.5, 0.1, 0.0, Mode.OUTPUT_OFF) for n in range(6)]
    assert found[:4] == [CutOut.NONE] * 4
    assert found[4:] == [CutOut.POSSIBLE] * 2


def test_what_nobody_saw_is_possible_at_most() -> None:
    assert after((0.0, 9.0, 9.99)).update(60.0, 0.1, 0.0) is CutOut.POSSIBLE
    assert after((0.0, 9.0, 6.0)).update(60.0, 0.1, 0.0) is CutOut.NONE


def test_amps_that_climb_past_the_limit_with_the_volts_are_a_cut_out() -> None:
    # A soft start of 4.5 V a second into 1.4 S behind 2 V; out half a second after the limit.
    watch = after((0.0, 4.5, 3.5), (0.5, 6.75, 6.65), (1.0, 9.0, 9.4))
    assert watch.update(1.5, 0.0, 0.0) is CutOut.SEEN


def test_a_supply_that_limits_is_switched_off() -> None:
    watch = CutOutWatch(LIMIT, may_cut_out=False)
    watch.update(0.0, 9.0, 10.0)
    assert watch.update(0.5, 0.0, 0.0) is CutOut.NONE


@pytest.mark.parametrize("poll_s", [0.2, 1.0])
@pytest.mark.parametrize("seed", range(1, 5))
def test_every_simulated_cut_out_of_a_warming_tank_is_seen_as_one(poll_s: float, seed: int) -> None:
    scene = load_scene("tank-warms-to-trip")
    rig, watch = Rig(scene, seed), CutOutWatch(scene.supply.limit_amps)
    for n in range(int(scene.duration_s / poll_s)):
        rig.advance_to(n * poll_s)
        point = rig.measured()
        found = watch.update(n * poll_s, point.volts, point.amps)
        if point.mode.value == "cut-out":
            assert found is CutOut.SEEN
            return
    raise AssertionError("the scene did not trip")


def test_over_a_corpus_every_cut_out_is_told_and_few_switches_are_taken_for_one() -> None:
    """Ten warming tanks that trip, and ten baths that the operator switches off again and again."""
    sure = told = trips = switched = false = 0
    for family, number in itertools.product(("tank rise", "operator off"), range(90_000, 90_010)):
        run = play(draw(family, number))
        watch = CutOutWatch(run.facts.limit_amps)
        trips += run.trip_s is not None
        was_flowing = False
        for row in run.rows:
            if not isinstance(row, Sample) or row.volts is None or row.amps is None:
                continue
            before = watch.now
            found = watch.update(row.t_s, row.volts, row.amps)
            begins = found is not CutOut.NONE and before is CutOut.NONE
            has_tripped = run.trip_s is not None and row.t_s >= run.trip_s
            told += begins and has_tripped
            sure += begins and has_tripped and found.is_sure
            false += begins and not has_tripped and found.is_sure
            flows = row.amps > 0.01 * run.facts.limit_amps
            switched += was_flowing and not flows and not has_tripped
            was_flowing = flows
    assert told == trips
    assert sure >= 0.9 * trips
    assert switched > 30
    assert false <= 0.1 * switched


def test_a_stack_whose_amps_go_while_its_volts_stay_has_cut_out() -> None:
    """Five readings a second of a meter that filters over 0.2 s: the volts come down evenly."""
    watch = CutOutWatch(33.0, cells=26)
    volts = (56.0, 54.0, 50.0, 47.4, 45.5, 43.9, 42.9)
    amps = (33.1, 14.3, 4.5, 1.84, 0.74, 0.24, 0.1)
    found = [watch.update(0.2 * n, *level) for n, level in enumerate(zip(volts, amps, strict=True))]
    assert found[-1] is CutOut.SEEN


def test_a_stack_that_a_hand_turns_down_evenly_has_not_cut_out() -> None:
    """Amps by a straight line above 70 V, which 10 V of electrodes and solution stand over."""
    watch = CutOutWatch(35.0, cells=34)
    volts = [87.0, *(87.0 - 1.5 * n for n in range(1, 16)), 50.0, 30.0]
    found = [
        watch.update(0.5 * n, level, 35.0 * max(level - 70.0, 0.0) / 17.0)
        for n, level in enumerate(volts)
    ]
    assert set(found) == {CutOut.NONE}


def test_the_first_reading_of_a_fall_is_no_peak() -> None:
    """Noise set the peak just over three seconds ago; the amps stood at 95 % until now."""
    watch = after((0.0, 7.0, 9.55), (3.0, 7.0, 9.5), (3.1, 7.0, 6.0))
    assert watch.peak_amps == 9.5
