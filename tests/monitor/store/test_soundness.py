"""What `check` finds out about a store: the file, the digests, the rows; and how far it came."""

import sqlite3
from pathlib import Path

import pytest

from monitor.base.errors import StoreDamaged
from monitor.store import sealing
from monitor.store.soundness import check_store
from tests.clock import HandClock
from tests.monitor.store.bench import a_run, a_sample, a_store
from tests.monitor.store.test_sealing import some_rows

RUNS = 3


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(sealing, "CHUNK_ROWS", 50)
    path = tmp_path / "a.db"
    with a_store(path) as writer:
        for _ in range(RUNS):
            run = a_run(writer)
            writer.write([(run, row) for row in some_rows(200)])
            writer.end_run(run, None, "done")
        writer.write([(a_run(writer), a_sample(0))])
    return path


class SlowClock(HandClock):
    """A second passes with every look at it."""

    def monotonic_ns(self) -> int:
        self.pass_s(1.0)
        return super().monotonic_ns()


def test_all_runs_are_compared_with_their_digests(path: Path) -> None:
    found = check_store(path)
    assert (found.runs, found.compared, found.is_whole) == (RUNS + 1, RUNS + 1, True)


def test_rows_that_are_not_those_recorded_are_damage(path: Path) -> None:
    stranger = sqlite3.connect(path)
    trigger = stranger.execute(
        "SELECT sql FROM sqlite_schema WHERE name = 'chunks_are_not_changed'"
    ).fetchone()[0]
    stranger.execute("DROP TRIGGER chunks_are_not_changed")
    stranger.execute(
        "UPDATE chunks SET amps_packed = volts_packed WHERE run = 2 AND first_seq = 50"
    )
    stranger.execute(trigger)
    stranger.commit()
    stranger.close()
    with pytest.raises(StoreDamaged, match="run 2: the rows from 50 on are not those"):
        check_store(path)


def test_a_large_store_is_compared_as_far_as_the_time_goes_the_newest_first(path: Path) -> None:
    compared = {check_store(path, SlowClock(), within_s).compared for within_s in range(30)}
    assert {0, 1, 2, 3, 4} <= compared
    assert not check_store(path, SlowClock(), 0).is_whole
