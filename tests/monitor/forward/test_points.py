"""The lines byte for byte: what a dashboard of many benches builds on."""

from dataclasses import replace
from pathlib import Path

import pytest

from drivers.reading import Mode
from monitor.forward.points import RunPoints
from monitor.model.alarm import Change, State
from monitor.model.event import Mark
from monitor.model.run import RunRow
from monitor.model.sample import Quality
from monitor.store.reader import open_store
from tests.monitor.forward.bench import store_with
from tests.monitor.store.bench import BEGAN_UTC_NS, a_gap, a_sample, an_estimate, an_event

TAGS = "bath=north\\ tank,bench=bench-a,run=20250615T150640Z-1,site=north\\ yard,supply=bench-1"


@pytest.fixture(name="row")
def the_run(tmp_path: Path) -> RunRow:
    path = tmp_path / "a.db"
    run = store_with(path, 1)
    with open_store(path) as store:
        return store.run(run).row


@pytest.fixture(name="points")
def the_points(row: RunRow) -> RunPoints:
    return RunPoints(row, "north yard", "bench-a")


def test_a_reading(points: RunPoints) -> None:
    text = points.reading(a_sample(2, amps=5.0, volts=9.25)).text
    fields = "amps=5,celsius=24.5,latency_s=0.0015,mode=1,quality=0,volts=9.25"
    assert text == f"bath_reading,{TAGS} {fields} {BEGAN_UTC_NS + 400_000_000}"


def test_what_is_unknown_is_left_out_never_zero(points: RunPoints) -> None:
    sample = a_sample(2, amps=None, volts=9.0, quality=Quality.SUSPECT, mode=Mode.UNKNOWN)
    point = points.reading(replace(sample, celsius=None))
    assert point.text is not None
    assert " latency_s=0.0015,quality=2,volts=9 " in point.text
    assert not point.is_without_number


@pytest.mark.parametrize("nothing", [None, float("nan"), float("inf")])
def test_a_reading_without_a_number_is_counted(points: RunPoints, nothing: float | None) -> None:
    point = points.reading(a_sample(2, amps=nothing, volts=nothing))
    assert point.text is not None
    assert "amps" not in point.text
    assert point.is_without_number


def test_a_poll_without_an_answer_is_a_point_with_its_quality_alone(points: RunPoints) -> None:
    point = points.reading(a_gap(3))
    assert point.text == f"bath_reading,{TAGS} quality=3 {BEGAN_UTC_NS + 600_000_000}"
    assert point.is_without_number


def test_an_estimate(points: RunPoints) -> None:
    text = points.estimate(an_estimate(5), BEGAN_UTC_NS).text
    assert text == (
        f"bath_estimate,{TAGS} amp_hours=0.5,chance_within_horizon=0.63,coverage=0.99,"
        f"siemens=0.8,siemens_per_minute=0.01,trip_in_s=118,trip_in_low_s=80 {BEGAN_UTC_NS}"
    )


def test_an_alarm_raised_and_returned(points: RunPoints) -> None:
    raised = points.alarm(an_event(5), BEGAN_UTC_NS).text
    assert raised == (
        f"bath_alarm,alarm=trip-expected,bath=north\\ tank,bench=bench-a,change=raised,"
        f"priority=high,run=20250615T150640Z-1,site=north\\ yard,supply=bench-1 "
        f'message="a cut-out is near",occurrence=1,standing=1,state="unacknowledged",'
        f"trip_in_s=118 {BEGAN_UTC_NS}"
    )
    returned = points.alarm(an_event(9, Change.RETURNED, State.NORMAL), BEGAN_UTC_NS).text
    assert returned is not None
    assert "change=returned," in returned
    assert ",standing=0," in returned


def test_a_mark(points: RunPoints) -> None:
    text = points.mark(Mark(2, 7, BEGAN_UTC_NS + 7, 'say "hi"\n\\o/')).text
    assert text == f'bath_mark,{TAGS} number=2,text="say \\"hi\\" \\\\o/" {BEGAN_UTC_NS + 7}'


def test_the_step_of_the_job_is_a_tag_from_its_card_on(points: RunPoints) -> None:
    points.know([(BEGAN_UTC_NS + 400_000_000, "strip it")])
    told = [points.reading(a_sample(seq)).text or "" for seq in (1, 2)]
    assert told[0].startswith(f"bath_reading,{TAGS} ")
    series = TAGS.replace(",supply", ",step=strip\\ it,supply")
    assert told[1].startswith(f"bath_reading,{series} ")


def test_a_run_of_a_later_store_with_the_same_number_is_another_series(row: RunRow) -> None:
    later = replace(row, began_utc_ns=row.began_utc_ns + 86_400_000_000_000)
    ours = RunPoints(row, "", "b").reading(a_sample(1)).text
    theirs = RunPoints(later, "", "b").reading(a_sample(1)).text
    assert ours != theirs
    assert ours is not None
    assert "site" not in ours
