"""The rig: what it is at a time depends on the scene and the seed, never on the asking."""

import statistics
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulators.cell import Part
from simulators.rig import Point, Rig
from simulators.scene import Event, Scene, load_scene
from simulators.supply import Mode
from simulators.trace import trace

SWAB = load_scene("swab-warms-to-trip")
TANK = load_scene("tank-warms-to-trip")


def measured_at(scene: Scene, t_s: float, *on_the_way_s: float, seed: int | None = None) -> Point:
    rig = Rig(scene, seed)
    for stop_s in on_the_way_s:
        rig.advance_to(stop_s)
        rig.measured()
    rig.advance_to(t_s)
    return rig.measured()


@settings(max_examples=20)
@given(st.lists(st.floats(0.0, 40.0), max_size=30))
def test_asking_on_the_way_changes_nothing(stops_s: list[float]) -> None:
    assert measured_at(SWAB, 40.0, *stops_s) == measured_at(SWAB, 40.0)


def test_asked_twice_at_one_time_it_says_the_same() -> None:
    rig = Rig(TANK)
    rig.advance_to(30.0)
    first = rig.measured()
    rig.advance_to(30.049)
    rig.advance_to(12.0)
    assert rig.measured() == first
    assert rig.t_s == 30.0


def test_the_same_seed_gives_the_same_day_and_another_seed_another() -> None:
    assert measured_at(SWAB, 60.0, seed=7) == measured_at(SWAB, 60.0, seed=7)
    assert measured_at(SWAB, 60.0, seed=7) != measured_at(SWAB, 60.0, seed=8)


def test_the_scenes_own_seed_is_taken_where_none_is_said() -> None:
    assert measured_at(SWAB, 60.0) == measured_at(SWAB, 60.0, seed=SWAB.seed)


def test_what_the_operator_does_leaves_the_noise_as_it_was() -> None:
    lower = replace(TANK, events=(Event("set-volts", at_s=4.0, volts=6.0), *TANK.events[1:]))
    at_9_volts, at_6_volts = Rig(TANK), Rig(lower)
    for rig in (at_9_volts, at_6_volts):
        rig.advance_to(12.0)
    assert at_6_volts.truth().volts == 6.0
    volts_over = at_9_volts.measured().volts - at_9_volts.truth().volts
    assert at_6_volts.measured().volts - 6.0 == pytest.approx(volts_over, abs=0.001)


def test_a_trace_reads_what_the_rig_shows() -> None:
    points = list(trace(TANK, rate_hz=4.0, duration_s=30.0))
    assert [point.t_s for point in points] == [number / 4.0 for number in range(121)]
    assert points[-1] == measured_at(TANK, 30.0)


def test_a_trace_can_be_of_the_true_values() -> None:
    rig = Rig(TANK)
    rig.advance_to(30.0)
    assert list(trace(TANK, duration_s=30.0, true=True))[-1] == rig.truth()


def test_the_meters_show_their_resolution_and_come_close_to_the_truth() -> None:
    pairs = zip(trace(TANK, duration_s=60.0), trace(TANK, duration_s=60.0, true=True), strict=True)
    for shown, true in pairs:
        assert shown.volts == round(shown.volts, 3)
        assert shown.amps == round(shown.amps, 2)
        assert shown.volts == pytest.approx(true.volts, abs=0.012)
        assert shown.amps == pytest.approx(true.amps, rel=0.011, abs=0.02)


def test_the_meters_noise_is_white_and_as_large_as_the_plate_says() -> None:
    shown = list(trace(TANK, rate_hz=20.0, duration_s=60.0))[-1000:]
    true = list(trace(TANK, rate_hz=20.0, duration_s=60.0, true=True))[-1000:]
    pairs = list(zip(shown, true, strict=True))
    volts_off = [one.volts - other.volts for one, other in pairs]
    amps_off = [one.amps / other.amps - 1.0 for one, other in pairs]
    assert statistics.pstdev(volts_off) == pytest.approx(TANK.supply.volts_noise, rel=0.1)
    assert statistics.pstdev(amps_off) == pytest.approx(TANK.supply.amps_noise, rel=0.1)
    # White: one reading says nothing of the next.
    products = [one * other for one, other in pairwise(amps_off)]
    assert statistics.fmean(products) == pytest.approx(0.0, abs=0.1 * TANK.supply.amps_noise**2)


def test_celsius_is_unknown_without_a_probe() -> None:
    assert measured_at(SWAB, 10.0).celsius is None
    assert measured_at(TANK, 10.0).celsius == pytest.approx(21.0, abs=0.2)


def event_scene(*events: Event, part: Part | None = None) -> Scene:
    """The tank, quiet and with these events only."""
    on = (Event("set-volts", at_s=0.0, volts=6.0), Event("output-on", at_s=0.0))
    calm = replace(TANK.circuit, wander_share=0.0)
    return replace(TANK, circuit=calm, events=(*on, *events), part=part)


def test_events_come_when_they_are_due_and_once() -> None:
    rig = Rig(event_scene(Event("output-off", at_s=20.0), Event("output-on", at_s=10.0)))
    rig.advance_to(60.0)
    assert [(t_s, event.do) for t_s, event in rig.done] == [
        (0.0, "set-volts"),
        (0.0, "output-on"),
        (10.0, "output-on"),
        (20.0, "output-off"),
    ]


def test_a_short_trips_and_events_after_a_trip_count_from_it() -> None:
    rig = Rig(
        event_scene(
            Event("short-begins", at_s=20.0, ohms=0.02),
            Event("short-ends", after_trip_s=100.0),
            Event("reset", after_trip_s=200.0),
            Event("output-on", after_trip_s=201.0),
            Event("short-begins", at_s=300.0, ohms=0.02),
            Event("set-volts", after_trip_s=10.0, trip=2, volts=5.0),
        )
    )
    rig.advance_to(400.0)
    times = [t_s for t_s, event in rig.done[3:]]
    assert times == pytest.approx([120.5, 220.5, 221.5, 300.0, 310.5], abs=0.11)
    assert rig.supply.trips == 2
    assert rig.truth().mode is Mode.CUT_OUT


def test_events_after_the_strip_count_from_the_last_of_the_chromium() -> None:
    part = Part(0.5, 0.3, efficiency=0.5)
    rig = Rig(event_scene(Event("output-off", after_strip_s=15.0), part=part))
    rig.advance_to(200.0)
    off_s = rig.done[-1][0]
    stripped = Rig(event_scene(part=part))
    while not stripped.cell.is_stripped:
        stripped.advance_to(stripped.t_s + 0.05)
    assert off_s == pytest.approx(stripped.t_s + 15.0, abs=0.051)


def test_lead_water_and_part_can_be_changed() -> None:
    rig = Rig(
        event_scene(
            Event("lead-ohms", at_s=10.0, ohms=0.5),
            Event("pour-in-water", at_s=20.0, litres=1.0),
            Event("new-part", at_s=30.0),
            part=Part(0.5),
        )
    )
    rig.advance_to(9.0)
    before = rig.truth().amps
    rig.advance_to(11.0)
    assert rig.truth().amps < 0.5 * before
    rig.advance_to(29.0)
    assert rig.cell.litres == pytest.approx(10.0, abs=0.01)
    chromium = rig.cell.chromium_grams
    rig.advance_to(31.0)
    assert rig.cell.chromium_grams > chromium


def test_more_volts_than_the_supply_has_cannot_be_set() -> None:
    rig = Rig(event_scene(Event("set-volts", at_s=1.0, volts=50.0)))
    rig.advance_to(10.0)
    assert rig.supply.volts_set == TANK.supply.volts_max
