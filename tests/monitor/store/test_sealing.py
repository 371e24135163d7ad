"""Sealed rows: equal to the recorded ones, guarded, small; sealed as a run goes and at its end."""

import random
import sqlite3
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings

from drivers.reading import Mode
from monitor.base.errors import StoreDamaged
from monitor.model.sample import Gap, Quality, Sample
from monitor.store import sealing
from monitor.store.packing import unpack_values
from monitor.store.reader import open_store
from monitor.store.writer import StoreWriter
from tests.monitor.store.bench import BEGAN_UTC_NS, POLL_NS, a_gap, a_run, a_sample, a_store
from tests.monitor.store.test_round_trip import recorded


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "a.db"


@pytest.fixture
def small_chunks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sealing, "CHUNK_ROWS", 50)
    monkeypatch.setattr(sealing, "KEPT_ROWS", 50)


def some_rows(count: int, seed: int = 1) -> list[Sample | Gap]:
    random.seed(seed)
    rows: list[Sample | Gap] = []
    for seq in range(count):
        if random.random() < 0.03:
            rows.append(a_gap(seq, random.choice(["no answer", "port missing"])))
        else:
            amps = None if random.random() < 0.02 else round(random.uniform(4, 6), 3)
            rows.append(a_sample(seq, amps, round(random.uniform(8.9, 9.1), 2)))
    return rows


def record(path: Path, rows: list[Sample | Gap], batch: int = 10, end: bool = True) -> int:
    with a_store(path) as writer:
        run = a_run(writer)
        for at in range(0, len(rows), batch):
            writer.write([(run, row) for row in rows[at : at + batch]])
        if end:
            writer.end_run(run, None, "done")
    return run


def count(path: Path, table: str) -> int:
    connection = sqlite3.connect(path)
    try:
        found: int = connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
        return found
    finally:
        connection.close()


@settings(max_examples=60)
@given(rows=recorded())
def test_any_rows_come_back_equal_after_the_seal(rows: list[Sample | Gap]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.db"
        run = record(path, rows)
        assert count(path, "samples") == 0
        with open_store(path) as store:
            stored = store.run(run)
            assert list(stored.rows()) == rows
            assert stored.last() == (rows[-1] if rows else None)
            assert [int(one) for one in stored.samples().seq] == [row.seq for row in rows]
            assert stored.what_is_unsound() is None


@pytest.mark.usefixtures("small_chunks")
def test_older_rows_are_sealed_while_the_run_goes_on(path: Path) -> None:
    rows = some_rows(1000)
    run = record(path, rows, end=False)
    assert count(path, "chunks") == 19
    assert count(path, "samples") == 50
    with open_store(path) as store:
        stored = store.run(run)
        assert [(row.seq, row) for row in stored.rows()] == [(row.seq, row) for row in rows]
        assert list(stored.rows(after_seq=77)) == rows[78:]
        assert [int(one) for one in stored.samples(20.0, 30.0).seq] == list(range(100, 151))
        assert [int(one) for one in stored.samples(180.0).seq] == list(range(900, 1000))
        assert [int(one) for one in stored.samples(189.0, 191.0).seq] == list(range(945, 956))


@pytest.mark.usefixtures("small_chunks")
def test_a_backlog_is_written_before_anything_is_sealed(path: Path) -> None:
    rows = some_rows(2000)
    record(path, rows, batch=1000, end=False)
    assert count(path, "chunks") == 0


@pytest.mark.usefixtures("small_chunks")
def test_a_reader_between_two_pages_misses_nothing_that_is_sealed_meanwhile(path: Path) -> None:
    rows = some_rows(600)
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, row) for row in rows[:130]])
        with open_store(path) as store:
            pages = store.run(run).pages()
            seen = [cells[0] for cells in next(pages)]
            for at in range(130, 600, 10):
                writer.write([(run, row) for row in rows[at : at + 10]])
            seen += [cells[0] for page in pages for cells in page]
    assert seen == list(range(600))


@pytest.mark.usefixtures("small_chunks")
def test_a_batch_written_again_after_its_rows_were_sealed_is_there_once(path: Path) -> None:
    rows = some_rows(300)
    with a_store(path) as writer:
        run = a_run(writer)
        for _ in range(2):
            for at in range(0, 300, 10):
                writer.write([(run, row) for row in rows[at : at + 10]])
    with open_store(path) as store:
        assert list(store.run(run).rows()) == rows
        summary = store.run(run).summary()
        assert summary.samples + summary.missing == 300


@pytest.mark.usefixtures("small_chunks")
def test_a_killed_recorder_goes_on_behind_sealed_rows(path: Path) -> None:
    rows = some_rows(400)
    with a_store(path) as writer:
        run = a_run(writer)
        for at in range(0, 300, 10):
            writer.write([(run, row) for row in rows[at : at + 10]])
    with a_store(path) as writer:
        for at in range(300, 400, 10):
            writer.write([(run, row) for row in rows[at : at + 10]])
        writer.end_run(run, None, "done")
    with open_store(path) as store:
        assert list(store.run(run).rows()) == rows
        assert store.run(run).what_is_unsound() is None


@pytest.mark.usefixtures("small_chunks")
def test_a_run_that_could_not_be_sealed_at_its_end_is_sealed_by_the_next_recorder(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = some_rows(200)
    monkeypatch.setattr(sealing, "CHUNKS_AT_END", 1)
    run = record(path, rows, batch=200)
    assert count(path, "seals") == 0
    with a_store(path) as writer:
        other = a_run(writer)
        for seq in range(10):
            writer.write([(other, a_sample(seq))])
    assert count(path, "seals") == 1
    with open_store(path) as store:
        assert list(store.run(run).rows()) == rows
        assert store.run(run).what_is_unsound() is None


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("UPDATE chunks SET rows = 1", "chunks are never changed"),
        ("DELETE FROM chunks", "chunks are never deleted"),
        ("UPDATE seals SET rows = 1", "seals are never changed"),
        ("DELETE FROM seals", "seals are never deleted"),
        ("INSERT INTO chunks SELECT * FROM chunks", "chunks come in order"),
    ],
)
def test_what_is_sealed_cannot_be_changed_in_the_file(
    path: Path, statement: str, says: str
) -> None:
    run = record(path, some_rows(100))
    stranger = sqlite3.connect(path)
    with pytest.raises(sqlite3.IntegrityError, match=says):
        stranger.execute(statement)
    stranger.close()
    with open_store(path) as store:
        assert list(store.run(run).rows()) == some_rows(100)


@pytest.mark.usefixtures("small_chunks")
def test_only_a_row_that_lies_in_a_chunk_can_go(path: Path) -> None:
    record(path, some_rows(300), end=False)
    stranger = sqlite3.connect(path)
    with pytest.raises(sqlite3.IntegrityError, match="samples are never deleted"):
        stranger.execute("DELETE FROM samples WHERE seq = (SELECT max(seq) FROM samples)")
    stranger.close()


def test_rows_that_would_not_come_back_equal_are_not_removed(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def wrong(blob: bytes, length: int) -> object:
        values = unpack_values(blob, length)
        values[-1] += 1e-9
        return values

    monkeypatch.setattr("monitor.store.packing.unpack_values", wrong)
    rows = some_rows(100)
    run = record(path, rows)
    assert (count(path, "chunks"), count(path, "samples")) == (0, 100)
    with open_store(path) as store:
        assert list(store.run(run).rows()) == rows


def strip_guards(path: Path, statement: str) -> None:
    """What somebody does who means it: drop the triggers, change, and put them back."""
    connection = sqlite3.connect(path)
    guards = connection.execute(
        "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'"
    ).fetchall()
    for name, _ in guards:
        connection.execute(f"DROP TRIGGER {name}")
    connection.execute(statement)
    for _, sql in guards:
        connection.execute(sql)
    connection.commit()
    connection.close()


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE chunks SET digest = x'00' WHERE first_seq = 50",
        "DELETE FROM chunks WHERE first_seq = 50",
        "INSERT INTO samples VALUES (1, 900, 1, 1, 1, 1, 1, 1, 0, 0, NULL)",
    ],
)
@pytest.mark.usefixtures("small_chunks")
def test_a_run_that_was_tampered_with_does_not_open(path: Path, statement: str) -> None:
    run = record(path, some_rows(200))
    strip_guards(path, statement)
    with open_store(path) as store, pytest.raises(StoreDamaged, match="run 1: "):
        store.run(run)


@pytest.mark.usefixtures("small_chunks")
def test_values_that_were_exchanged_are_found_by_reading_all(path: Path) -> None:
    run = record(path, some_rows(200))
    strip_guards(
        path,
        "UPDATE chunks SET amps_packed = (SELECT volts_packed FROM chunks WHERE first_seq = 0) "
        "WHERE first_seq = 0",
    )
    with open_store(path) as store:
        assert store.run(run).what_is_unsound(rows_too=False) is None
        assert "rows from 0 on" in (store.run(run).what_is_unsound() or "")


def test_a_chunk_of_rubbish_is_damage(path: Path) -> None:
    run = record(path, some_rows(100), end=False)
    connection = sqlite3.connect(path)
    cells = ", ".join(["x'1234'"] * 10)
    connection.execute(f"INSERT INTO chunks VALUES (1, 0, 50, 51, 0, 1, x'', {cells})")
    connection.commit()
    connection.close()
    with open_store(path) as store:
        for read in (
            lambda run: list(run.rows()),
            lambda run: run.samples(),
            lambda run: run.columns(10),
        ):
            with pytest.raises(StoreDamaged, match="damaged"):
                read(store.run(run))


@pytest.mark.parametrize("batch", [10, 5000], ids=["sealed as it goes", "all sealed at the end"])
def test_a_finished_run_is_small_on_the_disk(path: Path, batch: int) -> None:
    random.seed(3)
    rows: list[Sample | Gap] = [
        Sample(
            seq,
            seq * POLL_NS + random.randrange(150_000),
            BEGAN_UTC_NS + seq * POLL_NS + random.randrange(150_000),
            random.randrange(900, 1400),
            round(9 + random.gauss(0, 0.01), 3),
            round(5 + random.gauss(0, 0.02), 3),
            round(25 + seq * 1e-4, 2),
            Mode.CONSTANT_VOLTAGE,
            Quality.GOOD,
        )
        for seq in range(30_000)
    ]
    empty = path.with_name("empty.db")
    StoreWriter(empty).close()
    record(path, rows, batch)
    assert path.stat().st_size - empty.stat().st_size < 25 * len(rows)
