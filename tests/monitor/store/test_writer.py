"""What is written is there, once, in order, and a run's end leaves one complete file."""

import shutil
import sqlite3
from pathlib import Path

import pytest

from drivers.base.clock import SpedClock
from monitor.base.errors import NoSuchRun
from monitor.model.alarm import Change, State
from monitor.model.event import Mark, Prompt
from monitor.model.sample import Gap, Sample
from monitor.store.reader import open_store
from monitor.store.writer import Entry
from tests.clock import HandClock
from tests.monitor.store.bench import (
    BEGAN_UTC_NS,
    FACTS,
    POLL_NS,
    a_gap,
    a_run,
    a_sample,
    a_store,
    an_estimate,
    an_event,
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "runs" / "bathvigil.db"


def rows(path: Path, run: int) -> list[Sample | Gap]:
    with open_store(path) as store:
        return list(store.run(run).rows())


def test_a_run_keeps_its_facts_and_begins_with_a_segment(path: Path) -> None:
    clock = HandClock()
    with a_store(path) as writer:
        row = writer.begin_run(FACTS, clock=clock, program="bathvigil 9")
        segment = writer.segment(row.run)
        with open_store(path) as store:
            assert store.runs() == [row]
            assert store.run(row.run).segments() == [segment]
    assert (row.facts, row.program, row.began_utc_ns) == (FACTS, "bathvigil 9", BEGAN_UTC_NS)
    assert row.ended_utc_ns is None
    assert (segment.began_seq, segment.began_t_ns) == (0, 0)
    assert segment.began_monotonic_ns == clock.now_ns


def test_a_sped_up_clock_can_be_rebuilt_from_the_segment(path: Path) -> None:
    clock = SpedClock(20.0, 1_000, 2_000)
    with a_store(path) as writer:
        row = writer.begin_run(FACTS, clock=clock, program="x")
        segment = writer.segment(row.run)
    assert (segment.clock_anchor_monotonic_ns, segment.clock_anchor_utc_ns) == (1_000, 2_000)


def test_everything_that_belongs_to_a_run_comes_back_equal(path: Path) -> None:
    written: list[Sample | Gap] = [
        a_sample(0),
        a_sample(1, amps=None),
        a_gap(2, detail="the whole message"),
    ]
    estimate, event = an_estimate(1), an_event(1)
    prompt, mark = Prompt("log-the-bath", 1, POLL_NS, "note it"), Mark(1, 7, 8, "hazy")
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, row) for row in written])
        writer.write([(run, estimate), (run, event), (run, prompt), (run, mark)])
    with open_store(path) as store:
        stored = store.run(run)
        assert list(stored.rows()) == written
        assert list(stored.estimates()) == [estimate]
        assert stored.alarms() == [event]
        assert stored.prompts() == [prompt]
        assert stored.marks() == [mark]


def test_a_batch_written_twice_is_there_once(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        batch: list[Entry] = [
            (run, a_sample(0)),
            (run, a_gap(1)),
            (run, a_gap(2)),
            (run, an_estimate(2)),
            (run, an_event(2)),
            (run, an_event(2, Change.ACKNOWLEDGED, State.ACKNOWLEDGED)),
            (run, Prompt("hold-done", 2, 1, "rinse")),
            (run, Mark(1, 1, 1)),
        ]
        writer.write(batch)
        writer.write(batch)
    with open_store(path) as store:
        stored = store.run(run)
        summary = stored.summary()
        assert (summary.samples, summary.missing, summary.gaps) == (1, 2, 1)
        assert [row.seq for row in stored.rows()] == [0, 1, 2]
        assert [gap.polls for gap in stored.gaps()] == [2]
        assert len(stored.alarms()) == 2
        assert (len(stored.prompts()), len(stored.marks())) == (1, 1)


def test_a_row_that_is_twice_in_one_batch_is_there_and_counted_once(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(0)), (run, a_sample(1)), (run, a_sample(1)), (run, a_gap(2))])
    with open_store(path) as store:
        summary = store.run(run).summary()
    assert [row.seq for row in rows(path, run)] == [0, 1, 2]
    assert (summary.samples, summary.missing) == (2, 1)


def test_a_row_that_comes_late_is_stored_and_counted(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(3))])
        writer.write([(run, a_sample(1)), (run, a_gap(2)), (run, a_sample(1))])
    with open_store(path) as store:
        summary = store.run(run).summary()
    assert [row.seq for row in rows(path, run)] == [1, 2, 3]
    assert (summary.samples, summary.missing) == (2, 1)


def test_a_stretch_without_answers_is_one_gap_however_it_is_cut_into_batches(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(0)), (run, a_gap(1, "no answer", "asked MEAS:CURR?"))])
        writer.write([(run, a_gap(2, "port missing"))])
        with open_store(path) as store:
            (open_gap,) = store.run(run).gaps()
        assert (open_gap.polls, open_gap.ended_t_ns) == (2, None)
        writer.write([(run, a_gap(3)), (run, a_sample(4)), (run, a_sample(5)), (run, a_gap(6))])
        with open_store(path) as store:
            first, second = store.run(run).gaps()
    assert (first.began_seq, first.began_t_ns, first.polls) == (1, POLL_NS, 3)
    assert (first.reason, first.detail) == ("no answer", "asked MEAS:CURR?")
    assert first.ended_t_ns == 4 * POLL_NS
    assert (second.began_seq, second.ended_t_ns) == (6, None)


def test_silence_is_a_row_with_the_reason_of_each_poll(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_gap(0, "no answer")), (run, a_gap(1, "port missing"))])
    assert [(row.seq, row.reason) for row in rows(path, run)] == [
        (0, "no answer"),
        (1, "port missing"),
    ]


def test_runs_in_one_batch_do_not_mix(path: Path) -> None:
    with a_store(path) as writer:
        one, two = a_run(writer), a_run(writer)
        writer.write([(one, a_sample(0)), (two, a_gap(0)), (one, a_gap(1)), (two, a_sample(1))])
        with open_store(path) as store:
            assert store.run(one).summary().samples == 1
            assert store.run(two).gaps()[0].ended_t_ns == POLL_NS
            assert store.run(one).gaps()[0].ended_t_ns is None


def test_a_row_of_a_run_that_is_not_there_is_refused_and_the_batch_with_it(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        with pytest.raises(NoSuchRun, match="no run 99"):
            writer.write([(run, a_sample(0)), (99, a_sample(0))])
    assert rows(path, run) == []


def test_the_file_stands_alone_after_the_end_of_a_run(path: Path, tmp_path: Path) -> None:
    clock = HandClock()
    with a_store(path) as writer:
        run = a_run(writer, clock)
        for seq in range(50):
            writer.write([(run, a_sample(seq))])
        clock.pass_s(12)
        assert writer.end_run(run, 12_000_000_000, "ended by the operator")
        copy = tmp_path / "copy.db"
        shutil.copyfile(path, copy)
    with open_store(copy) as store:
        assert store.stands_alone
        row = store.run(run).row
        assert len(list(store.run(run).rows())) == 50
    assert (row.ended_t_ns, row.ended_why) == (12_000_000_000, "ended by the operator")
    assert row.ended_utc_ns == BEGAN_UTC_NS + 12_000_000_000


def test_a_reader_in_the_middle_of_its_rows_does_not_keep_the_file_from_standing_alone(
    path: Path,
) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(seq)) for seq in range(5000)])
        with open_store(path) as store:
            reading = store.run(run).rows()
            next(reading)
            assert writer.end_run(run, None, "done")
            assert store.stands_alone
            assert sum(1 for _ in reading) == 4999


def test_the_end_of_a_run_ends_the_gap_that_lasts(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_gap(0))])
        writer.end_run(run, 9 * POLL_NS, "done")
    with open_store(path) as store:
        assert store.run(run).gaps()[0].ended_t_ns == 9 * POLL_NS
        assert store.run(run).summary().seconds == pytest.approx(1.8)


def test_a_second_end_does_not_change_the_first(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        writer.end_run(run, 1, "first")
        writer.end_run(run, 2, "second")
    with open_store(path) as store:
        assert store.run(run).row.ended_why == "first"


def test_a_run_of_a_dead_recorder_is_found_and_can_be_closed_at_its_last_row(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(0)), (run, a_sample(1))])
    with a_store(path) as writer:
        assert [row.run for row in writer.unfinished_runs("bench-1")] == [run]
        assert writer.unfinished_runs("bench-2") == []
        writer.end_run(run, None, "the recorder had stopped")
        assert writer.unfinished_runs("bench-1") == []
    with open_store(path) as store:
        row = store.run(run).row
    assert row.ended_t_ns == POLL_NS
    assert row.ended_utc_ns == BEGAN_UTC_NS + POLL_NS


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("UPDATE samples SET amps = 1", "samples are never changed"),
        ("UPDATE samples SET reason = 'x'", "samples are never changed"),
        ("DELETE FROM samples", "samples are never deleted"),
    ],
)
def test_what_was_measured_cannot_be_changed_in_the_file(
    path: Path, statement: str, says: str
) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(0))])
    stranger = sqlite3.connect(path)
    with pytest.raises(sqlite3.IntegrityError, match=says):
        stranger.execute(statement)
    stranger.close()
    assert rows(path, run) == [a_sample(0)]


def test_an_empty_batch_is_nothing(path: Path) -> None:
    with a_store(path) as writer:
        writer.write([])
