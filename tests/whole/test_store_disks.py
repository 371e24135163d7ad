"""Real disks that fill up or may not be written, and readers that hold on to a live store."""

import os
import shutil
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import pytest

from monitor.base.whole_file import NotWritten
from monitor.export.table_exports import export_csv
from monitor.model.sample import Gap, Sample
from monitor.store.failures import StoreFull, StoreReadOnly, StoreUnreachable
from monitor.store.opening import wal_path
from monitor.store.opening_to_write import WAL_BYTES_KEPT
from monitor.store.reader import open_store
from monitor.store.writer import StoreWriter
from tests.monitor.store.bench import a_run, a_sample, a_store, held_open
from tests.monitor.store.test_sealing import record, some_rows

CANNOT_MOUNT = os.geteuid() != 0 or shutil.which("mount") is None
"""Only root can mount a small disk; without it what stands here is that it was not tried."""


@contextmanager
def small_disk(place: Path, megabytes: int) -> Iterator[Path]:
    """A disk of its own, in memory, at a place."""
    place.mkdir()
    options = f"size={megabytes}m"
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(place)],
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode != 0:
        raise PermissionError(f"no disk can be mounted here: {done.stderr.strip()}")
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)


def may_mount(tmp_path: Path) -> str | None:
    """Why no disk can be mounted here; None where one can."""
    if CANNOT_MOUNT:
        return "only root can mount a disk"
    try:
        with small_disk(tmp_path / "trial", 1):
            return None
    except PermissionError as refused:
        return str(refused)


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 1 MB; where none can be mounted, a folder whose name says why."""
    why = may_mount(tmp_path)
    if why is not None:
        pytest.xfail(why)
    with small_disk(tmp_path / "disk", 1) as place:
        yield place


def seqs(path: Path, run: int) -> list[int]:
    with open_store(path) as store:
        return [row.seq for row in store.run(run).rows()]


def write_for_ever(writer: StoreWriter, run: int, batches: list[list[Sample | Gap]]) -> None:
    """Write batches of 100 rows from 1 on until that fails; all are noted, also the last."""
    while True:
        first = 1 + 100 * len(batches)
        batches.append([a_sample(first + number) for number in range(100)])
        writer.write([(run, row) for row in batches[-1]])


def test_a_full_disk_is_told_and_recording_goes_on_when_there_is_room_again(disk: Path) -> None:
    other = disk / "other"
    with a_store(disk / "a.db") as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(0))])
        other.write_bytes(bytes(max(shutil.disk_usage(disk).free - 60_000, 0)))
        batches: list[list[Sample | Gap]] = []
        with pytest.raises(StoreFull, match="its disk is full; free some space on it"):
            write_for_ever(writer, run, batches)
        written = 1 + 100 * (len(batches) - 1)
        assert seqs(disk / "a.db", run) == list(range(written))
        other.unlink()
        writer.write([(run, row) for row in batches[-1]])
        assert writer.end_run(run, None, "done")
    assert seqs(disk / "a.db", run) == list(range(written + 100))
    with open_store(disk / "a.db") as store:
        assert store.run(run).what_is_unsound() is None


def test_an_export_that_does_not_fit_leaves_the_older_one(disk: Path, tmp_path: Path) -> None:
    run = record(tmp_path / "a.db", some_rows(30_000), batch=900)
    to = disk / "run.csv"
    to.write_text("older")
    with (
        open_store(tmp_path / "a.db") as store,
        pytest.raises(NotWritten, match="No space left on device"),
    ):
        export_csv(store.run(run), to)
    assert to.read_text() == "older"
    assert [file.name for file in disk.iterdir()] == ["run.csv"]


def test_a_disk_that_becomes_read_only_is_told_and_its_runs_can_still_be_read(disk: Path) -> None:
    path = disk / "a.db"
    run = record(path, some_rows(300), batch=10)
    # A store that is open for writing keeps a disk from becoming read-only, so open it after.
    subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
    with pytest.raises((StoreReadOnly, StoreUnreachable), match="check"):
        a_store(path)
    assert len(seqs(path, run)) == 300
    subprocess.run(["mount", "-o", "remount,rw", str(disk)], check=True)
    with a_store(path) as writer:
        assert a_run(writer) == run + 1


def test_ten_readers_and_one_that_holds_on_keep_no_sample_waiting(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    stop = threading.Event()
    failures: list[Exception] = []

    def look() -> None:
        try:
            with open_store(path) as store:
                while not stop.is_set():
                    run = store.run(1)
                    run.columns(200)
                    run.last()
                    run.standing_alarms()
                    stop.wait(0.2)
        except Exception as failure:
            failures.append(failure)

    # This writer waits 10 ms for a lock and then fails: that it stores all is the proof.
    with a_store(path) as writer, ExitStack() as held:
        run = a_run(writer)
        writer.write([(run, a_sample(seq)) for seq in range(3000)])
        stranger = held.enter_context(held_open(path))
        readers = [threading.Thread(target=look) for _ in range(10)]
        for reader in readers:
            reader.start()
        for number in range(100):
            time.sleep(0.02)
            writer.write([(run, a_sample(3000 + number))])
        stop.set()
        for reader in readers:
            reader.join()
        log_bytes = wal_path(path).stat().st_size
        stranger.execute("ROLLBACK")
        for number in range(100, 140):
            writer.write([(run, a_sample(3000 + number))])
    assert failures == []
    # A transaction that is held keeps the log from being folded in: it grows by what is written.
    assert log_bytes < 140 * 12 * 4096 + 2_000_000
    assert seqs(path, run) == list(range(3140))


def test_the_log_is_given_back_when_the_last_one_who_held_on_lets_go(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    rows = some_rows(900)
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(0))])
        began = 1
        with held_open(path):
            while wal_path(path).stat().st_size < WAL_BYTES_KEPT + 2_000_000:
                writer.write([(run, a_sample(began + n)) for n in range(len(rows))])
                began += len(rows)
        for _ in range(3):
            writer.write([(run, a_sample(began))])
            began += 1
        assert wal_path(path).stat().st_size <= WAL_BYTES_KEPT
