"""Looks at a real store file: what a recorder wrote is what a screen is drawn from."""

import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from drivers.base.clock import SpedClock, SystemClock, boot_id
from drivers.reading import Mode
from monitor.base.errors import StoreError
from monitor.model.estimate import Charge, Estimate, Forecast
from monitor.model.event import Mark
from monitor.model.request import RequestKind
from monitor.model.run import RunRow
from monitor.model.sample import Gap, Sample
from monitor.store.forward_rows import ForwardState
from monitor.store.writer import StoreWriter
from monitor.text.copying import BESIDE
from tests.tui import pictures
from tui.ink import plain
from tui.look import BY, FORWARD_EVERY, StoreSource
from tui.moment import Moment
from tui.page import draw_review
from tui.run_time import RunTime
from tui.view import Window, is_hole

POLL_S = pictures.FACTS.poll_s


def sample(seq: int, amps: float) -> Sample:
    at_ns = int(seq * POLL_S * 1e9)
    return Sample(seq, at_ns, at_ns, 900, 6.8, amps, mode=Mode.CONSTANT_VOLTAGE)


def gap(seq: int) -> Gap:
    at_ns = int(seq * POLL_S * 1e9)
    return Gap(seq, at_ns, at_ns, "no answer", "bench-1: no answer to MEAS:CURR? in 0.5 s")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "bathvigil.db"


@pytest.fixture
def writer(path: Path) -> Iterator[StoreWriter]:
    with StoreWriter(path) as writer:
        yield writer


@pytest.fixture
def row(writer: StoreWriter) -> RunRow:
    return writer.begin_run(pictures.FACTS, clock=SystemClock(), program="bathvigil 0.1.0")


def test_a_run_that_has_just_begun_is_starting(path: Path, row: RunRow) -> None:
    view = StoreSource(path, row.run).look(None)
    assert view.last is None
    assert Moment(view, 0.1).standing.line == "STARTING: waiting for the first answer"


def test_what_was_written_is_seen_at_the_next_look(
    path: Path, row: RunRow, writer: StoreWriter
) -> None:
    source = StoreSource(path, row.run)
    source.look(None)
    forecast = Forecast(118.0, 72.0, 205.0, chance_within_horizon=0.6)
    writer.write(
        [(row.run, sample(seq, 9.0)) for seq in range(50)]
        + [(row.run, Estimate(49, 9_800_000_000, forecast, Charge(0.02, 0.02, 0.02)))]
        + [(row.run, pictures.EXPECTED), (row.run, Mark(1, 5_000_000_000, 0, "swab flushed"))]
    )
    view = source.look(Window(0.0, 10.0, 10))
    assert view.last_sample == sample(49, 9.0)
    assert view.alarms == (pictures.EXPECTED,)
    assert [mark.text for mark in view.marks] == ["swab flushed"]
    assert [column.amps_high for column in view.chart.columns] == [9.0] * 10
    assert Moment(view, 9.9).standing.line == "RISING: trip in about 2 min (1 to 4)"
    source.close()


def test_a_screen_opened_in_the_middle_of_a_silence_knows_how_long_it_lasts(
    path: Path, row: RunRow, writer: StoreWriter
) -> None:
    writer.write([(row.run, sample(seq, 9.0)) for seq in range(50)])
    writer.write([(row.run, gap(seq)) for seq in range(50, 90)])
    view = StoreSource(path, row.run).look(Window(0.0, 20.0, 20))
    assert view.last_sample == sample(49, 9.0)
    assert Moment(view, 17.9).standing.line == "NO DATA: no answer for 8 s"
    assert [is_hole(column) for column in view.chart.columns[8:12]] == [False, False, True, True]


def test_the_chart_is_kept_until_a_window_is_asked_for(
    path: Path, row: RunRow, writer: StoreWriter
) -> None:
    source = StoreSource(path, row.run)
    writer.write([(row.run, sample(0, 9.0))])
    first = source.look(Window(0.0, 10.0, 10))
    writer.write([(row.run, sample(1, 9.5))])
    assert source.look(None).chart is first.chart
    assert source.look(Window(0.0, 10.0, 10)).chart.columns[0].amps_high == 9.5
    source.close()


def test_how_the_copying_stands_is_looked_up_more_seldom_than_the_chart(
    path: Path, row: RunRow, writer: StoreWriter, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked: list[Path] = []

    def states(at: Path) -> list[ForwardState]:
        looked.append(at)
        return []

    monkeypatch.setattr("tui.look.forward_states", states)
    source = StoreSource(path, row.run)
    for _ in range(2 * FORWARD_EVERY):
        source.look(Window(0.0, 10.0, 10))
    assert len(looked) == 3  # the first time, then with every tenth
    source.close()


def test_a_request_reaches_the_recorder_with_its_sender(
    path: Path, row: RunRow, writer: StoreWriter
) -> None:
    source = StoreSource(path, row.run)
    source.look(None)
    source.ask(RequestKind.ACKNOWLEDGE, "tripped#1")
    (request,) = writer.take_requests(row.run)
    assert (request.kind, request.detail, request.by) == ("acknowledge", "tripped#1", BY)
    source.close()


def test_a_mark_on_a_compressed_run_is_stamped_by_the_runs_own_clock(
    path: Path, writer: StoreWriter
) -> None:
    hour_ago = SpedClock(50.0, time.monotonic_ns() - 3600 * 10**9, time.time_ns() - 3600 * 10**9)
    facts = replace(pictures.FACTS, clock_speed=50.0)
    row = writer.begin_run(facts, clock=hour_ago, program="bathvigil 0.1.0")
    source = StoreSource(path, row.run)
    source.look(None)
    before_ns = hour_ago.utc_ns()
    source.ask(RequestKind.MARK, "")
    (request,) = writer.take_requests(row.run)
    assert before_ns <= request.utc_ns <= hour_ago.utc_ns()
    source.close()


def test_a_request_to_a_run_that_has_ended_is_refused(
    path: Path, row: RunRow, writer: StoreWriter
) -> None:
    source = StoreSource(path, row.run)
    writer.end_run(row.run, 1_000_000_000, "ended by the operator")
    with pytest.raises(StoreError, match="has ended"):
        source.ask(RequestKind.MARK, "")
    view = source.look(None)
    assert view.ended
    assert Moment(view, 99.0).standing.line == "FINISHED: run ended after 0:01 by the operator"
    source.close()


def test_a_store_that_comes_back_is_looked_at_again(
    path: Path, row: RunRow, writer: StoreWriter
) -> None:
    source = StoreSource(path, row.run)
    away = path.with_name("away.db")
    writer.close()
    path.rename(away)
    with pytest.raises(StoreError, match="no such store"):
        source.look(None)
    away.rename(path)
    assert source.look(None).row.run == row.run
    source.close()


def test_the_age_of_a_row_is_counted_on_the_clock_that_stamped_it(path: Path, row: RunRow) -> None:
    view = StoreSource(path, row.run).look(None)
    assert view.segment is not None
    assert 0.0 <= RunTime(SystemClock(), view.segment, 1.0, boot_id()).now_s() < 60.0


def test_an_ended_run_whose_newest_rows_lie_beside_the_file_says_so(
    path: Path, row: RunRow, writer: StoreWriter
) -> None:
    writer.write([(row.run, sample(0, 20.0))])
    writer.end_run(row.run, None, "ended by the operator")

    def shown() -> str:
        view = StoreSource(path, row.run).look(Window(0.0, 1.0, 10))
        return "\n".join(plain(line) for line in draw_review(Moment(view, 1.0), 80, 24))

    assert BESIDE not in shown()
    other = writer.begin_run(pictures.FACTS, clock=SystemClock(), program="bathvigil 0.1.0")
    writer.write([(other.run, sample(0, 20.0))])
    assert f"{BESIDE}   copy it with backup" in shown()
