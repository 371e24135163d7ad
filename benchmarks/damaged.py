"""A run store cut or with a bit turned over, as a power failure or a bad card leaves it: what it
still holds when the recorder opens it again, and where the damaged file is then.
"""

import random
import shutil
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from drivers.base.clock import SystemClock
from monitor.base.errors import StoreError
from monitor.model.sample import Gap, Sample
from monitor.store.opening import wal_path
from monitor.store.reader import open_store
from tests.monitor.store.bench import a_run, a_sample, a_store
from tests.monitor.store.test_sealing import some_rows

BATCH = 5
BATCHES = 60
ROWS = 6_000
"""Of a finished store: enough for its readings to be a large part of it."""

Rows = list[Sample | Gap]


@dataclass
class Outcomes:
    """What became of the damaged stores, counted in words; and what should not have been."""

    counts: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Recorded:
    """A store as it lies on the disk in mid-run: the file, its log, and how long the log was
    when each batch was committed.
    """

    rows: Rows
    store: bytes
    log: bytes
    committed_at: tuple[int, ...]

    def batches_within(self, length: int) -> int:
        """How many batches a log of so many bytes holds whole."""
        return sum(end <= length for end in self.committed_at)


def recorded_in_mid_run(folder: Path) -> Recorded:
    """Record some batches, and take the files while the recorder still has them open."""
    path, rows = folder / "a.db", some_rows(BATCH * BATCHES)
    with a_store(path) as writer:
        run = a_run(writer)
        # What is in the file itself is not at stake here.
        writer._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        lengths = []
        for first in range(0, len(rows), BATCH):
            writer.write([(run, row) for row in rows[first : first + BATCH]])
            lengths.append(wal_path(path).stat().st_size)
        return Recorded(rows, path.read_bytes(), wal_path(path).read_bytes(), tuple(lengths))


def cut_logs(count: int, seed: int) -> Outcomes:
    """Cut the log of a store in mid-run at random lengths, and open what is left."""
    chance, outcomes = random.Random(seed), Outcomes()
    with tempfile.TemporaryDirectory() as name:
        recorded = recorded_in_mid_run(Path(name))
        for _ in range(count):
            length = chance.randrange(len(recorded.log) + 1)
            due = recorded.batches_within(length)
            what = f"cut at {length} of {len(recorded.log)}"
            _open_again(recorded, recorded.log[:length], due, what, outcomes)
    return outcomes


def turned_logs(count: int, seed: int) -> Outcomes:
    """Turn one random bit of the log over, and open it."""
    chance, outcomes = random.Random(seed), Outcomes()
    with tempfile.TemporaryDirectory() as name:
        recorded = recorded_in_mid_run(Path(name))
        for _ in range(count):
            place = chance.randrange(len(recorded.log))
            log = _turned(recorded.log, place, chance.randrange(8))
            # The batch that the bit is in, and all behind it, have no sum that fits any more.
            due = recorded.batches_within(place)
            _open_again(recorded, log, due, f"bit at {place} of the log", outcomes)
    return outcomes


def _open_again(recorded: Recorded, log: bytes, due: int, what: str, outcomes: Outcomes) -> None:
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "a.db"
        path.write_bytes(recorded.store)
        wal_path(path).write_bytes(log)
        with a_store(path) as writer:
            if writer.set_aside is not None:
                outcomes.wrong.append(f"{what}: a store that is only behind was set aside")
                return
            writer.resume_run(1, clock=SystemClock())
            held = due * BATCH
            writer.write([(1, a_sample(held + number)) for number in range(3)])
        with open_store(path) as opened:
            rows = list(opened.run(1).rows())
        if [row.seq for row in rows] != list(range(held + 3)):
            outcomes.wrong.append(f"{what}: {len(rows)} rows where {held} were committed")
        elif not _are_alike(rows[:held], recorded.rows[:held]):
            outcomes.wrong.append(f"{what}: rows have changed")
        outcomes.counts["opened, with every batch that was whole, and recorded into"] += 1


def turned_stores(count: int, seed: int) -> Outcomes:
    """Turn one random bit of a finished store over, and open it as the recorder does."""
    chance, outcomes = random.Random(seed), Outcomes()
    with tempfile.TemporaryDirectory() as name:
        first, rows = Path(name) / "first.db", some_rows(ROWS)
        with a_store(first) as writer:
            run = a_run(writer)
            writer.write([(run, row) for row in rows])
            writer.end_run(run, None, "done")
        whole = first.read_bytes()
        for number in range(count):
            place, bit = chance.randrange(len(whole)), chance.randrange(8)
            folder = Path(name) / f"{number}"
            folder.mkdir()
            _open_turned(
                folder / "a.db", _turned(whole, place, bit), rows, f"bit {bit} at {place}", outcomes
            )
            shutil.rmtree(folder)
    return outcomes


def _open_turned(path: Path, spoilt: bytes, rows: Rows, what: str, outcomes: Outcomes) -> None:
    path.write_bytes(spoilt)
    try:
        with a_store(path) as writer:
            aside = writer.set_aside
            new = a_run(writer)
            writer.write([(new, a_sample(0))])
    except StoreError:
        outcomes.counts["refused with the cure: it could be a newer version's or another's"] += 1
        if path.read_bytes() != spoilt:
            outcomes.wrong.append(f"{what}: a refused file was changed")
        return
    if aside is not None:
        outcomes.counts["set aside, a new one begun"] += 1
        if aside.read_bytes() != spoilt:
            outcomes.wrong.append(f"{what}: what was set aside is not what lay there")
        if [row.seq for row in _rows_of(path, new)] != [0]:
            outcomes.wrong.append(f"{what}: the new store does not hold what was recorded")
        return
    try:
        with open_store(path) as opened:
            stored = opened.run(1)
            is_told = stored.what_is_unsound() is not None
            held = list(stored.rows())
    except StoreError:
        outcomes.counts["the damage is told when the run is read"] += 1
        return
    if is_told:
        outcomes.counts["the damage is told when the run is read"] += 1
    elif _are_alike(held, rows):
        outcomes.counts["no reading is touched"] += 1
    else:
        outcomes.wrong.append(f"{what}: readings have changed, and nothing tells")


def _rows_of(path: Path, run: int) -> Iterator[Sample | Gap]:
    with open_store(path) as opened:
        yield from opened.run(run).rows()


def _are_alike(held: Rows, rows: Rows) -> bool:
    """Equal, but for the detail that only a gap's first row keeps."""
    return [_cells(row) for row in held] == [_cells(row) for row in rows]


def _cells(row: Sample | Gap) -> Sample | tuple[int, int, int, str]:
    return row if isinstance(row, Sample) else (row.seq, row.t_ns, row.utc_ns, row.reason)


def _turned(data: bytes, place: int, bit: int) -> bytes:
    turned = bytearray(data)
    turned[place] ^= 1 << bit
    return bytes(turned)
