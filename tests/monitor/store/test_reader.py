"""What a screen, a report or a notebook asks of a store."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from monitor.base.errors import NoSuchRun
from monitor.model.alarm import Change, Priority, State
from monitor.model.sample import Quality
from monitor.store.reader import open_store
from monitor.store.run_rows import PAGE
from monitor.store.writer import Entry
from tests.clock import HandClock
from tests.monitor.store.bench import (
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
    return tmp_path / "a.db"


def store_with(path: Path, *entries: object) -> int:
    with a_store(path) as writer:
        run = a_run(writer)
        batch: list[Entry] = [(run, entry) for entry in entries]  # type: ignore[misc]  # of any kind
        writer.write(batch)
    return run


def test_a_run_that_is_not_there_is_told_with_what_is(path: Path) -> None:
    with a_store(path) as writer:
        with open_store(path) as store, pytest.raises(NoSuchRun, match="it holds none yet"):
            store.run(1)
        a_run(writer)
        with open_store(path) as store, pytest.raises(NoSuchRun, match="it holds run 1 alone"):
            store.run(7)
        a_run(writer)
        with open_store(path) as store, pytest.raises(NoSuchRun, match="2 runs, 1 to 2: see"):
            store.run(7)


def test_runs_are_listed_in_their_order_and_by_supply(path: Path) -> None:
    with a_store(path) as writer:
        first = a_run(writer)
        other = writer.begin_run(
            type(FACTS)("bench-2", "scpi:/dev/x", 5.0),
            # A clock set back does not change the order.
            clock=HandClock(utc_now_ns=0),
            program="x",
        )
        with open_store(path) as store:
            assert [row.run for row in store.runs()] == [first, other.run]
            assert [row.run for row in store.runs("bench-2")] == [other.run]
            assert store.runs("bench-3") == []


def test_a_run_before_its_first_row_has_nothing_to_show_and_nothing_fails(path: Path) -> None:
    run = store_with(path)
    with open_store(path) as store:
        stored = store.run(run)
        summary = stored.summary()
        assert (summary.samples, summary.seconds, summary.coverage) == (0, 0.0, 0.0)
        assert stored.last() is None
        assert stored.latest_estimate() is None
        assert list(stored.rows()) == []
        assert len(stored.samples()) == 0
        assert [column.samples for column in stored.columns(3)] == [0, 0, 0]


def test_the_newest_row_is_a_sample_or_a_gap(path: Path) -> None:
    run = store_with(path, a_sample(0), a_gap(1, detail="asked MEAS:CURR?"))
    with open_store(path) as store:
        assert store.run(run).last() == a_gap(1, detail="asked MEAS:CURR?")
    with a_store(path) as writer:
        writer.write([(run, a_sample(2))])
    with open_store(path) as store:
        assert store.run(run).last() == a_sample(2)


def test_a_reader_sees_what_was_written_after_it_opened(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        with open_store(path) as store:
            stored = store.run(run)
            for seq in range(3):
                writer.write([(run, a_sample(seq))])
                last = stored.last()
                assert last is not None
                assert last.seq == seq


def test_rows_go_on_behind_any_row_and_over_many_pages(path: Path) -> None:
    run = store_with(path, *(a_sample(seq) for seq in range(2 * PAGE + 3)))
    with open_store(path) as store:
        stored = store.run(run)
        assert [row.seq for row in stored.rows()] == list(range(2 * PAGE + 3))
        assert [row.seq for row in stored.rows(after_seq=2 * PAGE)] == [2 * PAGE + 1, 2 * PAGE + 2]


def test_the_summary_takes_charge_and_coverage_from_the_newest_estimate(path: Path) -> None:
    entries = [a_sample(0), a_sample(1), a_gap(2), an_estimate(1, 0.4), an_estimate(2, 0.7)]
    run = store_with(path, *entries, an_event(1), an_event(2, Change.RETURNED, State.NORMAL))
    with open_store(path) as store:
        summary = store.run(run).summary()
    assert (summary.amp_hours, summary.coverage) == (0.7, 0.99)
    assert (summary.samples, summary.missing, summary.gaps, summary.alarms) == (2, 1, 1, 1)
    assert summary.seconds == pytest.approx(0.4)


def test_standing_alarms_are_the_newest_of_each_kind_the_worst_first(path: Path) -> None:
    cut_out = an_event(3, alarm="tripped", priority=Priority.CRITICAL)
    again = an_event(5, occurrence=2)
    run = store_with(
        path,
        an_event(1),
        an_event(2, Change.RETURNED, State.NORMAL),
        cut_out,
        an_event(4, alarm="no-data"),
        an_event(4, Change.RETURNED, State.NORMAL, alarm="no-data"),
        again,
    )
    with open_store(path) as store:
        assert store.run(run).standing_alarms() == [cut_out, again]
        assert len(store.run(run).alarms()) == 6


def test_an_alarm_that_has_returned_but_was_not_acknowledged_still_stands(path: Path) -> None:
    returned = an_event(2, Change.RETURNED, State.RETURNED_UNACKNOWLEDGED)
    run = store_with(path, an_event(1), returned)
    with open_store(path) as store:
        assert store.run(run).standing_alarms() == [returned]


def test_arrays_hold_every_due_poll_with_nothing_made_up(path: Path) -> None:
    run = store_with(path, a_sample(0, 4.5), a_gap(1), a_sample(2, None), a_sample(3, 0.0))
    with open_store(path) as store:
        series = store.run(run).samples()
    assert series.seq.tolist() == [0, 1, 2, 3]
    assert series.t_ns.tolist() == [seq * POLL_NS for seq in range(4)]
    assert series.t_s[3] == 3 * POLL_NS / 1e9
    assert np.isnan(series.amps).tolist() == [False, True, True, False]
    assert (series.amps[0], series.amps[3]) == (4.5, 0.0)
    assert series.quality.tolist() == [0, 3, 0, 0]
    assert len(series) == 4


def test_a_stretch_has_both_of_its_ends(path: Path) -> None:
    entries = [one for seq in range(3 * PAGE) for one in (a_sample(seq),)]
    run = store_with(path, *entries, *(an_estimate(seq) for seq in range(0, 3 * PAGE, 5)))
    with open_store(path) as store:
        stored = store.run(run)
        assert stored.samples(1000.0, 1001.0).seq.tolist() == list(range(5000, 5006))
        assert [one.seq for one in stored.estimates(1000.0, 1001.0)] == [5000, 5005]
        assert len(stored.samples(2000.0)) == 3 * PAGE - 10_000
        assert len(stored.samples(None, 1.0)) == 6
        assert len(stored.samples(1e6, 2e6)) == 0


def test_a_suspect_row_is_in_the_arrays_with_its_quality(path: Path) -> None:
    run = store_with(path, a_sample(0, 1e6, quality=Quality.SUSPECT))
    with open_store(path) as store:
        series = store.run(run).samples()
    assert (series.amps[0], series.quality[0]) == (1e6, Quality.SUSPECT)


def test_the_log_beside_a_live_store_is_told_of(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        with open_store(path) as store:
            assert not store.stands_alone
            writer.end_run(run, None, "done")
            assert store.stands_alone


def test_neither_recording_nor_a_screen_brings_in_numpy() -> None:
    code = (
        "import sys, monitor.store.writer, monitor.store.reader, monitor.store.requests; "
        "import monitor.export.table_exports, monitor.settings; "
        "sys.exit('numpy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
