"""What a power cut or a bad disk may leave: a log cut off anywhere, single bits turned over."""

import random
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from monitor.base.errors import StoreDamaged, StoreError
from monitor.model.sample import Gap, Sample
from monitor.store import sealing
from monitor.store.migration import statements
from monitor.store.opening import wal_path
from monitor.store.reader import open_store
from monitor.store.schema import STEPS
from monitor.store.soundness import check_store
from tests.clock import HandClock
from tests.monitor.store.bench import a_run, a_sample, a_store, an_estimate
from tests.monitor.store.test_sealing import record, some_rows

MANY = pytest.mark.trial
BATCH = 7


def a_store_as_a_power_cut_leaves_it(folder: Path) -> tuple[Path, int]:
    """A file and its log, taken while the recorder has them open; and the batches written."""
    path, taken = folder / "a.db", folder / "taken.db"
    batches = 60
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(seq)) for seq in range(BATCH)])
        with closing(sqlite3.connect(path)) as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        for first in range(BATCH, batches * BATCH, BATCH):
            rows = [(run, a_sample(seq)) for seq in range(first, first + BATCH)]
            writer.write([*rows, (run, an_estimate(first))])
        shutil.copy(path, taken)
        shutil.copy(wal_path(path), wal_path(taken))
    return taken, batches


def goes_on(path: Path, after: int) -> None:
    """The next recorder takes the file as it is, and the run up behind its last row."""
    with a_store(path) as writer:
        assert writer.set_aside is None
        segment = writer.resume_run(1, clock=HandClock(now_ns=10**15))
        assert segment.began_seq == after
        writer.write([(1, a_sample(after))])
    with open_store(path) as store:
        assert [one.seq for one in store.run(1).rows()] == list(range(after + 1))


@pytest.mark.parametrize("draws", [60, pytest.param(300, marks=MANY)])
def test_a_log_cut_off_anywhere_costs_whole_batches_and_never_the_file(
    draws: int, tmp_path: Path
) -> None:
    taken, batches = a_store_as_a_power_cut_leaves_it(tmp_path)
    log = wal_path(taken).read_bytes()
    chance = random.Random(4711)
    kept = set()
    cuts = [0, len(log), *(chance.randrange(len(log)) for _ in range(draws))]
    for number, cut in enumerate(cuts):
        path = tmp_path / "cut.db"
        shutil.copy(taken, path)
        wal_path(path).write_bytes(log[:cut])
        with open_store(path) as store:
            seqs = [one.seq for one in store.run(1).rows()]
        assert seqs == list(range(len(seqs)))
        assert len(seqs) % BATCH == 0, "a batch is there whole or not at all"
        if number % 6 == 0:
            goes_on(path, len(seqs))
        kept.add(len(seqs) // BATCH)
        path.unlink()
    assert {1, batches} <= kept
    assert len(kept) > 30


@pytest.fixture
def sealed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Path, list[Sample | Gap]]:
    monkeypatch.setattr(sealing, "CHUNK_ROWS", 100)
    rows = some_rows(600)
    record(tmp_path / "a.db", rows)
    return tmp_path / "a.db", rows


def rows_or_trouble(path: Path) -> list[Sample | Gap] | str:
    try:
        check_store(path)
        with open_store(path) as store:
            return list(store.run(1).rows())
    except StoreError as error:
        return str(error)


@pytest.mark.parametrize(("draws", "least_told"), [(100, 5), pytest.param(300, 30, marks=MANY)])
def test_a_bit_that_turned_over_is_told_or_changes_no_reading(
    draws: int, least_told: int, sealed: tuple[Path, list[Sample | Gap]], tmp_path: Path
) -> None:
    path, rows = sealed
    whole = path.read_bytes()
    chance = random.Random(4712)
    told = 0
    for number in range(draws):
        data = bytearray(whole)
        data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
        flipped = tmp_path / f"flipped-{number}.db"
        flipped.write_bytes(data)
        found = rows_or_trouble(flipped)
        if isinstance(found, str):
            assert str(flipped) in found
            told += 1
        else:
            assert found == rows
        flipped.unlink()
    assert told > least_told


def test_whatever_bit_turned_over_the_recorder_goes_on_in_a_sound_file(
    sealed: tuple[Path, list[Sample | Gap]], tmp_path: Path
) -> None:
    path, _ = sealed
    whole = path.read_bytes()
    chance = random.Random(4713)
    aside = 0
    for number in range(100):
        data = bytearray(whole)
        # In the pages of the schema and the tables, where it hurts most.
        data[chance.randrange(100, 20_000)] ^= 1 << chance.randrange(8)
        flipped = tmp_path / f"{number}" / "a.db"
        flipped.parent.mkdir()
        flipped.write_bytes(data)
        with a_store(flipped) as writer:
            run = a_run(writer)
            writer.write([(run, a_sample(0))])
            if writer.set_aside is not None:
                aside += 1
                assert writer.set_aside.read_bytes() == bytes(data), "and nothing is deleted"
        with open_store(flipped) as store:
            assert [one.seq for one in store.run(run).rows()] == [0]
        shutil.rmtree(flipped.parent)
    assert aside > 0


def test_a_table_whose_text_is_not_ours_any_more_is_set_aside_by_the_recorder(
    sealed: tuple[Path, list[Sample | Gap]],
) -> None:
    path, _ = sealed
    path.write_bytes(path.read_bytes().replace(b"ended_why TEXT", b"ended_whz TEXT"))
    with a_store(path) as writer:
        assert writer.set_aside is not None
        assert a_run(writer) == 1


def test_a_code_too_large_for_the_arrays_is_damage(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(0))])
    trigger = next(one for one in statements(STEPS[0]) if "samples_are_not_changed" in one)
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("DROP TRIGGER samples_are_not_changed")
        connection.execute("UPDATE samples SET mode = 300")
        connection.execute(trigger)
    with open_store(path) as store, pytest.raises(StoreDamaged, match="a code that nobody knows"):
        store.run(run).samples()
