"""A day in seconds: the log beside the store stays small whoever reads, and a mute day is quiet."""

from dataclasses import replace
from pathlib import Path

import pytest

from monitor.model.run import RunFacts
from monitor.model.sample import Gap, Sample
from monitor.recorder.plan import SupplyPlan
from monitor.recorder.recorder import Recorder
from monitor.store.opening import wal_path
from monitor.store.reader import open_store
from monitor.store.writer import Entry
from tests.monitor.store.bench import BEGAN_UTC_NS, a_run, a_sample, a_store, an_estimate

DAY_S = 86_400
SECOND_NS = 10**9
BATCH_S = 60
WAL_LIMIT = 16 * 1024 * 1024

pytestmark = pytest.mark.trial


def entries(run: int, first: int) -> list[Entry]:
    """A minute of readings a second apart, with their estimates."""
    found: list[Entry] = []
    for seq in range(first, first + BATCH_S):
        t_ns = seq * SECOND_NS
        found.append((run, replace(a_sample(seq), t_ns=t_ns, utc_ns=BEGAN_UTC_NS + t_ns)))
        found.append((run, an_estimate(seq)._replace(t_ns=t_ns)))
    return found


def test_a_day_with_a_reviewer_who_holds_the_run_open_keeps_the_log_small(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    most = 0
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write(entries(run, 0))
        with open_store(path) as store:
            reviewed = store.run(run)
            # One who reads on, a row now and then, from the first to the last, all day long.
            reading = reviewed.rows()
            for first in range(BATCH_S, DAY_S, BATCH_S):
                writer.write(entries(run, first))
                most = max(most, wal_path(path).stat().st_size)
                assert isinstance(next(reading), Sample)
                if first % 3600 == 0:
                    reviewed.columns(200)
                    reviewed.summary()
            assert most < WAL_LIMIT
            assert writer.end_run(run, None, "done"), "and the file stands alone"
            assert store.stands_alone
            assert store.run(run).summary().samples == DAY_S
    # Sealed as it went: a day takes what its rows do, and the log's room was given back.
    assert path.stat().st_size / DAY_S < 25


def test_a_supply_that_is_away_all_day_is_one_gap_one_alarm_and_one_line(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    # Nothing listens on port 1; the recorder's clock runs so fast that a day takes seconds.
    facts = RunFacts("bench-1", "scpi:tcp://127.0.0.1:1", 10.0, poll_s=1.0, clock_speed=5_000.0)
    said: list[str] = []
    rows: list[Sample | Gap] = []
    recorder = Recorder(
        path,
        [SupplyPlan(facts, timeout_s=0.2)],
        lambda _run, row, _verdict: rows.append(row),
        said.append,
        keep_trying=True,
    )
    recorder.run(for_s=DAY_S)
    with open_store(path) as store:
        run = store.run(1)
        summary = run.summary()
        assert (summary.samples, summary.gaps, summary.coverage) == (0, 1, 0.0)
        # What was due when it was stopped may not be told any more.
        assert summary.missing == len(rows) > 0.9 * DAY_S
        assert [event.alarm for event in run.alarms()] == ["no-data"]
        assert "it is tried again" in said[0]
    assert len(said) == 1
    assert path.stat().st_size < 2_000_000
