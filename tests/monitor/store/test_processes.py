"""Real processes: a writer that is killed, readers that loop while it writes."""

import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from monitor.base.errors import StoreError
from monitor.model.sample import Sample
from monitor.store.opening import wal_path
from monitor.store.reader import open_store
from tests.clock import HandClock
from tests.monitor.store.bench import a_run, a_sample, a_store, an_estimate, an_event, held_open

WRITES_FOR_EVER = """
import sys
from pathlib import Path
from tests.monitor.store.bench import a_gap, a_run, a_sample, a_store

writer = a_store(Path(sys.argv[1]))
run = a_run(writer)
seq = 0
while True:
    batch = [a_gap(n) if n % 50 == 7 else a_sample(n) for n in range(seq, seq + 100)]
    writer.write([(run, row) for row in batch])
    seq += 100
    print(seq, flush=True)
"""


@pytest.mark.parametrize("batches", [1, 3, 10, 40])
def test_a_killed_writer_leaves_every_committed_row_and_no_half_batch(
    tmp_path: Path, batches: int
) -> None:
    path = tmp_path / "a.db"
    command = [sys.executable, "-c", WRITES_FOR_EVER, str(path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        for _ in range(batches):
            committed = int(process.stdout.readline())
        process.send_signal(signal.SIGKILL)
        rest = process.stdout.read().split()
    if rest:
        # The last line may have been cut off by the kill, but then its batch was committed.
        committed = max(committed, *(int(one) for one in rest if one.endswith("00")))
    with a_store(path) as writer:
        assert writer.set_aside is None
        (row,) = writer.unfinished_runs("bench-1")
        clock = HandClock()
        clock.pass_s(3600)
        segment = writer.resume_run(row.run, clock=clock)
        writer.write([(row.run, a_sample(segment.began_seq))])
    with open_store(path) as store:
        rows = list(store.run(row.run).rows())
        summary = store.run(row.run).summary()
        gaps = store.run(row.run).gaps()
    assert segment.began_seq % 100 == 0
    assert segment.began_seq >= committed
    assert [one.seq for one in rows] == list(range(segment.began_seq + 1))
    assert summary.samples + summary.missing == len(rows)
    assert summary.missing == segment.began_seq // 50
    assert (gaps[-1].reason, gaps[-1].began_seq) == ("recorder stopped", segment.began_seq)


def test_screens_that_look_all_the_time_stop_neither_the_writer_nor_each_other(
    tmp_path: Path,
) -> None:
    path = tmp_path / "a.db"
    failures: list[StoreError] = []
    seen: list[int] = []
    stop = threading.Event()

    def look(run: int) -> None:
        try:
            with open_store(path) as store:
                stored = store.run(run)
                while not stop.is_set():
                    last = stored.last()
                    stored.latest_estimate()
                    stored.standing_alarms()
                    columns = stored.columns(50, 0.0)
                    counted = sum(column.samples for column in columns)
                    if isinstance(last, Sample):
                        assert counted > last.seq
                        seen.append(last.seq)
        except StoreError as failure:
            failures.append(failure)

    # A patient writer: what a reader might do to it shows as a wait, not as an error.
    with a_store(path) as writer:
        run = a_run(writer)
        readers = [threading.Thread(target=look, args=(run,)) for _ in range(3)]
        for reader in readers:
            reader.start()
        for seq in range(300):
            writer.write([(run, a_sample(seq)), (run, an_estimate(seq)), (run, an_event(seq))])
        stop.set()
        for reader in readers:
            reader.join()
        assert writer.end_run(run, None, "done")
        assert wal_path(path).stat().st_size == 0
    assert failures == []
    assert seen
    with open_store(path) as store:
        assert store.run(run).summary().samples == 300


def test_a_stranger_who_holds_a_transaction_open_does_not_stop_the_writing(
    tmp_path: Path,
) -> None:
    path = tmp_path / "a.db"
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(0))])
        with held_open(path), open_store(path) as store:
            for seq in range(1, 50):
                writer.write([(run, a_sample(seq))])
            assert not writer.end_run(run, None, "done")
            assert not store.stands_alone
    with open_store(path) as store:
        # Closing folded in what the reader had kept out.
        assert store.stands_alone
        assert store.run(run).summary().samples == 50
