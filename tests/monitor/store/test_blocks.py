"""Charts from blocks against the rows: nothing lost, nothing made up, no hole closed."""

import random
import sqlite3
import tempfile
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.model.sample import Gap, Quality, Sample
from monitor.store import charting
from monitor.store.blocks import SCALES
from monitor.store.columns import Column
from monitor.store.reader import StoredRun, open_store
from tests.clock import HandClock
from tests.monitor.store.bench import BEGAN_UTC_NS, POLL_NS, Connections, a_gap, a_run, a_store

Rows = list[Sample | Gap]


@pytest.fixture(autouse=True)
def coarse(monkeypatch: pytest.MonkeyPatch) -> None:
    """Blocks are read as soon as a column holds as many rows, also in a narrow chart."""
    monkeypatch.setattr(charting, "LEAST_COLUMNS", 1)


@dataclass(frozen=True)
class Figures:
    """What a chart says of one stretch."""

    samples: int
    suspect: int
    missing: int
    amps_low: float | None
    amps_high: float | None
    volts_low: float | None
    volts_high: float | None


def from_rows(rows: Rows, from_ns: int, to_ns: int) -> Figures:
    inside = [row for row in rows if from_ns <= row.t_ns <= to_ns]
    answers = [row for row in inside if isinstance(row, Sample)]
    good = [row for row in answers if row.quality < Quality.SUSPECT]
    amps = [row.amps for row in good if row.amps is not None]
    volts = [row.volts for row in good if row.volts is not None]
    return Figures(
        len(good),
        len(answers) - len(good),
        len(inside) - len(answers),
        min(amps, default=None),
        max(amps, default=None),
        min(volts, default=None),
        max(volts, default=None),
    )


def from_columns(columns: list[Column]) -> Figures:
    def least(values: list[float | None]) -> float | None:
        return min((one for one in values if one is not None), default=None)

    def most(values: list[float | None]) -> float | None:
        return max((one for one in values if one is not None), default=None)

    return Figures(
        sum(column.samples for column in columns),
        sum(column.suspect for column in columns),
        sum(column.missing for column in columns),
        least([column.amps_low for column in columns]),
        most([column.amps_high for column in columns]),
        least([column.volts_low for column in columns]),
        most([column.volts_high for column in columns]),
    )


def a_history(seed: int, count: int) -> Rows:
    """Rows with everything that happens: drops, long gaps, suspect rows, a stop, late answers."""
    random.seed(seed)
    rows: Rows = []
    t_ns, silent = 0, 0
    for seq in range(count):
        t_ns += POLL_NS + random.randrange(-POLL_NS // 50, POLL_NS // 50)
        if random.random() < 0.0005:
            t_ns += random.randrange(10**12)
        if random.random() < 0.002:
            silent = random.randrange(1, 400)
        if silent or random.random() < 0.01:
            silent = max(silent - 1, 0)
            rows.append(Gap(seq, t_ns, BEGAN_UTC_NS + t_ns, "no answer"))
            continue
        late_ns = random.randrange(4 * POLL_NS) if random.random() < 0.01 else 0
        quality = Quality.SUSPECT if random.random() < 0.01 else Quality.GOOD
        volts, amps, celsius = (
            None if random.random() < 0.02 else random.gauss(mean, 1.0) for mean in (9, 5, 25)
        )
        rows.append(
            Sample(
                *(seq, t_ns + late_ns, BEGAN_UTC_NS + t_ns, 900, volts, amps, celsius),
                quality=quality,
            )
        )
    return rows


@pytest.fixture(scope="module", params=["live", "ended"])
def history(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, Rows]:
    """A run of 30,000 rows, some of them sealed, or all."""
    path = tmp_path_factory.mktemp("history") / "a.db"
    rows = a_history(7, 30_000)
    with a_store(path) as writer:
        run = a_run(writer)
        for at in range(0, len(rows), 700):
            writer.write([(run, row) for row in rows[at : at + 700]])
        if request.param == "ended":
            writer.end_run(run, None, "done")
    return path, rows


def the_run(path: Path) -> StoredRun:
    return open_store(path).run(1)


@settings(max_examples=120)
@given(ends=st.tuples(st.floats(0, 1), st.floats(0, 1)).map(sorted), count=st.integers(1, 300))
def test_a_stretch_at_any_zoom_holds_what_its_rows_hold(
    history: tuple[Path, Rows], ends: list[float], count: int
) -> None:
    path, rows = history
    from_s, to_s = (rows[int(end * (len(rows) - 1))].t_s for end in ends)
    columns = the_run(path).columns(count, from_s, to_s)
    assert from_columns(columns) == from_rows(rows, round(from_s * 1e9), round(to_s * 1e9))


@settings(max_examples=60)
@given(ends=st.tuples(st.floats(0, 1), st.floats(0, 1)).map(sorted), count=st.integers(5, 200))
def test_each_column_holds_what_lies_in_it_or_in_the_next(
    history: tuple[Path, Rows], ends: list[float], count: int
) -> None:
    path, rows = history
    from_s, to_s = (rows[int(end * (len(rows) - 1))].t_s for end in ends)
    from_ns, to_ns = round(from_s * 1e9), round(to_s * 1e9)
    width_ns = max(-(-(to_ns - from_ns) // count), 1)
    columns = the_run(path).columns(count, from_s, to_s)
    exact: list[list[float]] = [[] for _ in range(count + 1)]
    for row in rows:
        if isinstance(row, Sample) and row.amps is not None and row.quality < Quality.SUSPECT:
            number = (row.t_ns - from_ns) // width_ns
            if from_ns <= row.t_ns <= to_ns:
                exact[min(number, count - 1)].append(row.amps)
    for number, column in enumerate(columns):
        near = exact[number] + exact[number + 1]
        for value in (column.amps_low, column.amps_high):
            assert value is None or value in near
        if exact[number]:
            before = columns[max(number - 1, 0)]
            highs = [one for one in (before.amps_high, column.amps_high) if one is not None]
            assert max(highs) >= max(exact[number])


@settings(max_examples=60)
@given(ends=st.tuples(st.floats(0, 1), st.floats(0, 1)).map(sorted), count=st.integers(1, 200))
def test_no_column_that_lies_in_a_gap_is_filled(
    history: tuple[Path, Rows], ends: list[float], count: int
) -> None:
    path, rows = history
    from_s, to_s = (rows[int(end * (len(rows) - 1))].t_s for end in ends)
    run = the_run(path)
    columns = run.columns(count, from_s, to_s)
    gaps = run.gaps()
    late_s = 4 * POLL_NS / 1e9
    for column in columns:
        for gap in gaps:
            ended_s = (rows[-1].t_ns if gap.ended_t_ns is None else gap.ended_t_ns) / 1e9
            # Answers that are late lie behind the due times of the polls after them.
            inside = gap.began_t_ns / 1e9 + late_s <= column.from_s and column.to_s <= ended_s
            if inside and column.to_s <= to_s:
                assert column.is_gap
                assert column.samples == 0


def test_the_mean_from_blocks_is_the_rows(history: tuple[Path, Rows]) -> None:
    path, rows = history
    (column,) = the_run(path).columns(1)
    good = [row for row in rows if isinstance(row, Sample) and row.quality < Quality.SUSPECT]
    amps = [row.amps for row in good if row.amps is not None]
    celsius = [row.celsius for row in good if row.celsius is not None]
    assert column.amps_mean == pytest.approx(sum(amps) / len(amps), rel=1e-12)
    assert column.celsius_mean == pytest.approx(sum(celsius) / len(celsius), rel=1e-12)
    assert (column.celsius_low, column.celsius_high) == (min(celsius), max(celsius))


def test_a_wide_chart_reads_about_as_many_rows_as_it_has_columns(
    history: tuple[Path, Rows], connections: Connections
) -> None:
    path, rows = history
    store = open_store(path)
    run = store.run(1)
    asked: list[str] = []
    connections[-1].set_trace_callback(asked.append)
    run.columns(100)
    chunks = [one for one in asked if "_packed FROM chunks" in one]
    # One for each end of a hole as wide as a column at the most, and the newest row.
    holes = [gap for gap in run.gaps() if (gap.ended_t_ns or 0) - gap.began_t_ns > 60 * 10**9]
    assert len(chunks) <= 2 * len(holes) + 20
    assert len(rows) // 100 > SCALES[1]


def test_a_hole_between_two_recorders_is_no_block(tmp_path: Path) -> None:
    path, clock = tmp_path / "a.db", HandClock()
    with a_store(path) as writer:
        run = a_run(writer, clock)
        writer.write([(run, Sample(n, n * POLL_NS, 0, 1, 9.0, 5.0)) for n in range(1000)])
        clock.pass_s(86_400)
        began = writer.resume_run(run, clock=clock)
        later = [
            Sample(began.began_seq + n, began.began_t_ns + n * POLL_NS, 0, 1, 9.0, 7.0)
            for n in range(1000)
        ]
        writer.write([(run, row) for row in later])
    columns = the_run(path).columns(50)
    assert [column.samples for column in columns] == [1000, *[0] * 48, 1000]
    assert (columns[0].amps_high, columns[-1].amps_low) == (5.0, 7.0)
    assert all(column.is_gap for column in columns[:-1])


def blocks_of(path: Path) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute("SELECT * FROM blocks ORDER BY scale, number").fetchall()


@settings(max_examples=20)
@given(seed=st.integers(0, 10**6))
def test_blocks_do_not_depend_on_the_batches(seed: int) -> None:
    rows = a_history(3, 2500)
    cut = random.Random(seed)
    with tempfile.TemporaryDirectory() as folder:
        for name in ("whole.db", "cut.db"):
            with a_store(Path(folder) / name) as writer:
                run = a_run(writer)
                done = 0
                while done < len(rows):
                    size = len(rows)
                    again = 0
                    if name == "cut.db":
                        size = cut.randint(1, 900)
                        again = cut.randint(0, min(done, 300))
                    writer.write([(run, row) for row in rows[done - again : done + size]])
                    done += size
        assert blocks_of(Path(folder) / "cut.db") == blocks_of(Path(folder) / "whole.db")


def test_a_row_that_comes_late_is_in_its_blocks(tmp_path: Path) -> None:
    rows = [Sample(n, n * POLL_NS, 0, 1, 9.0, 5.0) for n in range(600)]
    spike = Sample(77, 77 * POLL_NS, 0, 1, 9.0, 9.9)
    with a_store(tmp_path / "a.db") as writer:
        run = a_run(writer)
        writer.write([(run, row) for row in rows if row.seq not in (77, 78)])
        writer.write([(run, spike), (run, a_gap(78))])
    in_order: Rows = [*rows[:77], spike, a_gap(78), *rows[79:]]
    with a_store(tmp_path / "b.db") as writer:
        run = a_run(writer)
        writer.write([(run, row) for row in in_order])
    assert blocks_of(tmp_path / "a.db") == blocks_of(tmp_path / "b.db")
