"""What a store that fails does to the rows: they wait, it is told once, and nothing is lost."""

import os
import sqlite3
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from drivers.base.clock import SystemClock
from monitor.model.estimate import Charge, Estimate, Forecast, NoForecast
from monitor.model.event import Status
from monitor.model.run import RunFacts
from monitor.model.sample import Sample
from monitor.recorder import scribe
from monitor.recorder.scribe import RING, Scribe
from monitor.store.reader import open_store
from monitor.store.writer import StoreWriter
from monitor.watch.vigil import Verdict
from tests.monitor.store.bench import Connections

FACTS = RunFacts("bench-1", "scpi:tcp://127.0.0.1:1", limit_amps=10.0)
PATIENCE_S = 30.0


class Writing:
    """A scribe on a real store, and what it told."""

    def __init__(self, path: Path, writer: StoreWriter) -> None:
        self.path = path
        self.told: list[str | None] = []
        self.heard = 0
        self.changed = threading.Condition()
        self.seq = 0
        self.run = writer.begin_run(FACTS, clock=SystemClock(), program="test").run
        self.scribe = Scribe(writer, SystemClock(), lambda request: "", self.tell)

    def tell(self, why: str | None) -> None:
        with self.changed:
            self.told.append(why)
            self.changed.notify_all()

    def note(self, count: int) -> None:
        for _ in range(count):
            t_ns = self.seq * 200_000_000
            row = Sample(self.seq, t_ns, t_ns, 900, 9.0, 5.0 + self.seq % 7)
            estimate = Estimate(self.seq, t_ns, Forecast(why=NoForecast.NO_RISE), Charge())
            self.scribe.note(self.run, row, Verdict(estimate))
            self.seq += 1

    def is_told(self, within_s: float = PATIENCE_S) -> bool:
        """Whether something more is told within a time than was waited for so far."""
        with self.changed:
            return self.changed.wait_for(lambda: len(self.told) > self.heard, within_s)

    def wait_until_told(self) -> None:
        assert self.is_told(), "nothing was told"
        self.heard += 1

    def wait_until_stored(self, count: int) -> None:
        deadline = threading.Event()
        for _ in range(round(PATIENCE_S / 0.02)):
            if len(self.stored()) >= count:
                return
            deadline.wait(0.02)
        raise AssertionError(f"{len(self.stored())} rows")

    def stored(self) -> list[int]:
        with open_store(self.path) as store:
            return [row.seq for row in store.run(self.run).rows()]


@pytest.fixture
def writing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Writing]:
    monkeypatch.setattr(scribe, "PUT_BACK_AFTER_S", 0.5)
    path = tmp_path / "runs.db"
    with StoreWriter(path, busy_timeout_s=0.05) as writer:
        one = Writing(path, writer)
        one.scribe.start({one.run})
        yield one
        one.scribe.close()


def test_a_store_locked_by_another_program_is_told_and_catches_up(writing: Writing) -> None:
    other = sqlite3.connect(writing.path, isolation_level=None)
    writing.note(5)
    other.execute("BEGIN IMMEDIATE")
    writing.note(500)
    writing.wait_until_told()
    writing.note(500)
    other.execute("COMMIT")
    other.close()
    writing.wait_until_told()
    writing.scribe.close()
    assert len(writing.told) == 2, "told once when it fails and once when it works again"
    assert "locked" in str(writing.told[0])
    assert writing.told[1] is None
    assert writing.stored() == list(range(writing.seq))


def test_a_file_that_was_moved_away_is_told_and_is_written_again_when_it_is_back(
    writing: Writing,
) -> None:
    aside = writing.path.with_name("aside.db")
    writing.path.rename(aside)
    writing.note(10)
    writing.wait_until_told()
    assert "deleted, moved or replaced" in str(writing.told[0])
    aside.rename(writing.path)
    writing.wait_until_told()
    writing.scribe.close()
    assert writing.stored() == list(range(10))


def test_a_deleted_store_is_told_and_put_back_with_all_that_was_in_it(writing: Writing) -> None:
    writing.note(500)
    writing.wait_until_stored(500)
    for tail in ("", "-wal", "-shm"):
        writing.path.with_name(writing.path.name + tail).unlink()
    writing.note(10)
    writing.wait_until_told()
    assert "deleted, moved or replaced" in str(writing.told[0])
    writing.wait_until_told()
    assert writing.told[1] is None
    writing.note(10)
    writing.scribe.close()
    assert writing.stored() == list(range(520))


def test_a_store_deleted_without_its_log_is_put_back_with_all_that_was_in_it(
    writing: Writing,
) -> None:
    writing.note(500)
    writing.wait_until_stored(500)
    writing.path.unlink()
    writing.note(10)
    writing.wait_until_told()
    writing.wait_until_told()
    writing.note(10)
    writing.scribe.close()
    assert writing.told == [writing.told[0], None]
    assert writing.stored() == list(range(520))
    assert sorted(file.name for file in writing.path.parent.iterdir()) == [
        "runs.db",
        "runs.db-shm",
        "runs.db-wal",
    ]


def test_a_store_deleted_at_the_very_end_is_put_back_at_once(writing: Writing) -> None:
    writing.note(20)
    writing.wait_until_stored(20)
    writing.path.unlink()
    writing.note(5)
    writing.scribe.close()
    assert writing.stored() == list(range(25))


def test_another_file_in_the_stores_place_is_left_alone_until_it_is_moved_away(
    writing: Writing,
) -> None:
    writing.note(20)
    writing.wait_until_stored(20)
    writing.path.unlink()
    writing.path.write_text("a letter")
    writing.note(5)
    writing.wait_until_told()
    assert writing.path.read_text() == "a letter"
    writing.path.rename(writing.path.with_name("letter"))
    writing.wait_until_told()
    writing.scribe.close()
    assert writing.stored() == list(range(25))
    assert writing.path.with_name("letter").read_text() == "a letter"


def test_a_full_disk_is_told_and_every_row_is_written_once_there_is_room(
    connections: Connections, writing: Writing
) -> None:
    # SQLite's own limit of pages gives SQLITE_FULL as a full disk does:
    # https://www.sqlite.org/pragma.html#pragma_max_page_count
    connection = connections[-1]
    pages = connection.execute("PRAGMA page_count").fetchone()[0]
    connection.execute(f"PRAGMA max_page_count = {pages}")
    writing.note(20_000)
    writing.wait_until_told()
    assert "disk is full" in str(writing.told[0])
    connection.execute("PRAGMA max_page_count = 1000000")
    writing.wait_until_told()
    writing.scribe.close()
    assert writing.stored() == list(range(20_000))


def test_the_charge_of_a_run_is_that_of_its_last_row(writing: Writing) -> None:
    writing.note(13)
    writing.scribe.close()
    with open_store(writing.path) as store:
        last = store.run(writing.run).latest_estimate()
    assert last is not None
    assert last.seq == 12


def test_the_ring_is_bounded_and_counts_what_it_drops(tmp_path: Path) -> None:
    with StoreWriter(tmp_path / "runs.db") as writer:
        writing = Writing(tmp_path / "runs.db", writer)
        status = Status("sound", 0, "words")
        for _ in range(RING + 7):
            writing.scribe.note_apart(writing.run, status)
        assert writing.scribe.lost == 7


def test_when_a_sample_was_committed_is_known(writing: Writing) -> None:
    assert writing.scribe.stored_ns(writing.run) is None
    before = SystemClock().monotonic_ns()
    writing.note(1)
    writing.scribe.close()
    stored_ns = writing.scribe.stored_ns(writing.run)
    assert stored_ns is not None
    assert stored_ns >= before


def test_a_status_is_replaced_by_the_newer_one(writing: Writing) -> None:
    writing.scribe.note_apart(writing.run, Status("sound", 1, "SOUND NOT CHECKED"))
    writing.scribe.note_apart(writing.run, Status("sound", 2, "sound heard", True))
    writing.scribe.close()
    with open_store(writing.path) as store:
        assert store.run(writing.run).statuses() == {
            "sound": Status("sound", 2, "sound heard", True)
        }


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_bug_in_the_writing_is_told_like_a_store_that_fails(tmp_path: Path) -> None:
    class Broken(StoreWriter):
        def write(self, entries: object) -> None:
            raise ZeroDivisionError("of ours")

    with Broken(tmp_path / "runs.db") as writer:
        writing = Writing(tmp_path / "runs.db", writer)
        writing.scribe.start({writing.run})
        writing.note(1)
        writing.wait_until_told()
        writing.scribe.close()
        assert "ZeroDivisionError" in str(writing.told[0])


def test_a_store_deleted_from_a_folder_that_may_not_be_written_waits_for_it(
    writing: Writing,
) -> None:
    writing.note(20)
    writing.wait_until_stored(20)
    folder = writing.path.parent
    writing.path.unlink()
    folder.chmod(0o555)
    try:
        writing.note(3)
        writing.wait_until_told()
        assert "deleted, moved or replaced" in str(writing.told[0])
        if os.geteuid() != 0:  # nothing forbids root to write
            assert not writing.is_told(2 * scribe.PUT_BACK_AFTER_S)
            assert not writing.path.exists()
    finally:
        folder.chmod(0o755)
    writing.wait_until_told()
    assert writing.told[1] is None
    writing.scribe.close()
    assert writing.stored() == list(range(23))
