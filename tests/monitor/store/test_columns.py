"""A chart's columns: no spike is lost, no gap is drawn across, nothing suspect bends the scale."""

import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.model.sample import Gap, Quality, Sample
from monitor.store.columns import Column
from monitor.store.reader import open_store
from tests.clock import HandClock
from tests.monitor.store.bench import a_gap, a_run, a_sample, a_store


def columns_of(
    folder: Path,
    rows: list[Sample | Gap],
    count: int,
    from_s: float | None = None,
    to_s: float | None = None,
) -> list[Column]:
    path = folder / "a.db"
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, row) for row in rows])
    with open_store(path) as store:
        return store.run(run).columns(count, from_s, to_s)


def test_a_spike_of_one_sample_is_in_its_column(tmp_path: Path) -> None:
    rows: list[Sample | Gap] = [a_sample(seq, 5.0, 9.0) for seq in range(10_000)]
    rows[7777] = a_sample(7777, 9.9, 6.5)
    columns = columns_of(tmp_path, rows, 20)
    spiked = columns[15]
    assert (spiked.amps_high, spiked.amps_low, spiked.volts_low) == (9.9, 5.0, 6.5)
    assert [column.amps_high for column in columns].count(9.9) == 1
    assert sum(column.samples for column in columns) == 10_000


def test_a_gap_of_one_poll_is_known_at_any_scale(tmp_path: Path) -> None:
    rows: list[Sample | Gap] = [a_sample(seq) for seq in range(1000)]
    rows[500] = a_gap(500)
    wide = columns_of(tmp_path, rows, 10)
    assert [column.is_gap for column in wide] == [number == 5 for number in range(10)]
    assert (wide[5].missing, wide[5].samples) == (1, 99)


def test_zoomed_in_a_hole_is_told_from_the_room_between_two_polls(tmp_path: Path) -> None:
    rows: list[Sample | Gap] = [a_sample(0), a_sample(1), a_gap(2), a_sample(3)]
    columns = columns_of(tmp_path, rows, 12, 0.0, 0.6 - 1e-9)
    empty = [column for column in columns if column.samples == 0]
    holes = [column for column in empty if column.is_gap]
    assert [(round(one.from_s, 3), round(one.to_s, 3)) for one in holes] == [
        (0.4, 0.45),
        (0.45, 0.5),
        (0.5, 0.55),
        (0.55, 0.6),
    ]
    assert len(empty) == 10
    assert all(one.amps_mean is None for one in empty)


def test_the_time_without_a_recorder_is_a_hole_though_no_poll_was_due(tmp_path: Path) -> None:
    clock = HandClock()
    with a_store(tmp_path / "a.db") as writer:
        run = a_run(writer, clock)
        writer.write([(run, a_sample(seq)) for seq in range(50)])
        clock.pass_s(100)
        writer.resume_run(run, clock=clock)
        writer.write([(run, a_sample(500)), (run, a_sample(501))])
    with open_store(tmp_path / "a.db") as store:
        columns = store.run(run).columns(10)
    # Answers ended at 9.8 s, and came again at 100 s.
    assert [column.is_gap for column in columns] == [True] * 10
    assert [column.samples for column in columns] == [50, 0, 0, 0, 0, 0, 0, 0, 0, 2]


def test_a_gap_that_lasts_reaches_to_the_newest_row_and_no_further(tmp_path: Path) -> None:
    rows: list[Sample | Gap] = [a_sample(seq) for seq in range(50)]
    rows += [a_gap(seq) for seq in range(50, 100)]
    columns = columns_of(tmp_path, rows, 4, 0.0, 40.0)
    assert [column.is_gap for column in columns] == [False, True, False, False]
    assert [column.missing for column in columns] == [0, 50, 0, 0]


def test_a_gap_that_ends_on_the_border_of_two_columns_is_in_the_first_alone(tmp_path: Path) -> None:
    rows: list[Sample | Gap] = [a_sample(seq) for seq in range(101)]
    rows[40:50] = [a_gap(seq) for seq in range(40, 50)]
    columns = columns_of(tmp_path, rows, 2)
    assert [column.from_s for column in columns] == [0.0, 10.0]
    assert [column.is_gap for column in columns] == [True, False]


def test_suspect_rows_are_counted_and_bend_nothing(tmp_path: Path) -> None:
    rows: list[Sample | Gap] = [a_sample(0, 5.0), a_sample(1, 1e6, quality=Quality.SUSPECT)]
    (column,) = columns_of(tmp_path, rows, 1)
    assert (column.samples, column.suspect, column.amps_high) == (1, 1, 5.0)


def test_a_missing_value_is_not_a_nought(tmp_path: Path) -> None:
    rows: list[Sample | Gap] = [a_sample(0, None, 9.0), a_sample(1, 4.0, None)]
    (column,) = columns_of(tmp_path, rows, 1)
    assert (column.amps_mean, column.volts_mean, column.samples) == (4.0, 9.0, 2)


def test_rows_that_lie_out_of_the_order_of_time_are_found(tmp_path: Path) -> None:
    # A slow answer's middle lies behind the due times of the polls that it made miss.
    slow = Sample(1, 900_000_000, 0, 1, 9.0, 7.0)
    rows: list[Sample | Gap] = [a_sample(0), slow, a_gap(2), a_gap(3), a_gap(4), a_sample(5)]
    columns = columns_of(tmp_path, rows, 1, 0.85, 1.0)
    assert (columns[0].samples, columns[0].amps_high) == (2, 7.0)


@pytest.mark.parametrize(("count", "from_s", "to_s"), [(0, None, None), (5, 2.0, 1.0)])
def test_columns_that_cannot_be_are_refused(
    tmp_path: Path, count: int, from_s: float | None, to_s: float | None
) -> None:
    with pytest.raises(ValueError, match="no"):
        columns_of(tmp_path, [a_sample(0)], count, from_s, to_s)


@settings(max_examples=60)
@given(
    kinds=st.lists(st.none() | st.floats(0, 100), max_size=120),
    count=st.integers(1, 50),
    bounds=st.tuples(st.floats(0, 30), st.floats(0, 30)).map(sorted),
)
def test_every_row_is_in_exactly_one_column(
    kinds: list[float | None], count: int, bounds: list[float]
) -> None:
    rows: list[Sample | Gap] = [
        a_gap(seq) if amps is None else a_sample(seq, amps) for seq, amps in enumerate(kinds)
    ]
    from_s, to_s = bounds
    with tempfile.TemporaryDirectory() as folder:
        columns = columns_of(Path(folder), rows, count, from_s, to_s)
    inside = [row for row in rows if round(from_s * 1e9) <= row.t_ns <= round(to_s * 1e9)]
    answers = [row.amps for row in inside if isinstance(row, Sample) and row.amps is not None]
    assert len(columns) == count
    assert sum(column.samples + column.missing for column in columns) == len(inside)
    assert max((one.amps_high for one in columns if one.amps_high is not None), default=None) == (
        max(answers, default=None)
    )
    assert min((one.amps_low for one in columns if one.amps_low is not None), default=None) == (
        min(answers, default=None)
    )
    assert all(column.is_gap for column in columns if column.missing)
