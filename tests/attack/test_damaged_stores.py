"""Damage in a store: it hides nothing that is sound, and nothing is overwritten in silence."""

import random
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from monitor.base.errors import StoreError
from monitor.model.run import EndReason
from monitor.model.sample import Gap, Sample
from monitor.store.reader import open_store
from monitor.store.salvage import salvage
from tests.monitor.store.bench import a_run, a_sample, a_store
from tests.whole.processes import in_process

RUNS, ROWS = 3, 300


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "runs.db"
    with a_store(path) as writer:
        for _ in range(RUNS):
            run = a_run(writer)
            writer.write([(run, a_sample(seq)) for seq in range(ROWS)])
            writer.end_run(run, None, EndReason.STOPPED)
    return path


def rows(path: Path, run: int) -> list[Sample | Gap]:
    with open_store(path) as opened:
        return list(opened.run(run).rows())


def spoil(path: Path, *statements: str) -> None:
    """As another program could; the guards against it are made anew."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        guards = connection.execute(
            "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'"
        ).fetchall()
        for name, _ in guards:
            connection.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            connection.execute(statement)
        for _, sql in guards:
            connection.execute(sql)


@pytest.fixture
def damaged(store: Path) -> Path:
    """Run 2 is not what was sealed."""
    spoil(store, "UPDATE seals SET rows = 7 WHERE run = 2")
    return store


def test_runs_lists_the_sound_ones_and_names_the_other(damaged: Path) -> None:
    done = in_process("runs", "--store", damaged)
    assert done.returncode == 1
    lines = done.stdout.splitlines()[1:]
    assert [line.split()[0] for line in lines] == ["1", "2", "3"]
    assert "DAMAGED" in lines[1]
    assert "salvage" in done.stderr
    done = in_process("runs", "--store", damaged, "--json")
    assert '"damaged":' in done.stdout.splitlines()[1]
    assert len(done.stdout.splitlines()) == RUNS
    assert "left out" in in_process("runs", "--store", damaged, "--alarms").stderr


def test_backup_copies_all_and_names_the_damaged_run(damaged: Path, tmp_path: Path) -> None:
    done = in_process("backup", tmp_path / "copy.db", "--store", damaged)
    assert done.returncode == 1
    assert "run 2" in done.stderr
    assert len(rows(tmp_path / "copy.db", 1)) == ROWS
    assert len(rows(tmp_path / "copy.db", 3)) == ROWS


def test_backup_overwrites_nothing_in_silence(store: Path, tmp_path: Path) -> None:
    older = tmp_path / "copy.db"
    older.write_text("precious")
    done = in_process("backup", older, "--store", store)
    assert done.returncode == 2
    assert "--replace" in done.stderr
    assert older.read_text() == "precious"
    assert in_process("backup", older, "--store", store, "--replace").returncode == 0
    assert len(rows(older, 1)) == ROWS


def test_bath_show_goes_on_and_names_it(damaged: Path) -> None:
    done = in_process("bath", "show", "--store", damaged)
    assert done.returncode == 0
    assert "left out" in done.stderr
    assert "run 2" in done.stderr


def test_salvage_of_a_sound_store_brings_all(store: Path, tmp_path: Path) -> None:
    to = tmp_path / "new.db"
    done = in_process("salvage", store, "--to", to)
    assert (done.returncode, done.stdout) == (0, "")
    for run in range(1, RUNS + 1):
        assert rows(to, run) == rows(store, run)
    assert in_process("salvage", store, "--to", to).returncode == 2
    with a_store(to) as writer:
        assert writer.set_aside is None
        assert a_run(writer) == RUNS + 1


def test_salvage_leaves_out_what_was_changed(store: Path, tmp_path: Path) -> None:
    spoil(store, "UPDATE chunks SET amps_packed = volts_packed WHERE run = 2")
    to = tmp_path / "new.db"
    done = in_process("salvage", store, "--to", to)
    assert done.returncode == 1
    assert f"run 2: the rows 0 to {ROWS - 1}" in done.stderr
    assert rows(to, 1) == rows(store, 1)
    assert rows(to, 3) == rows(store, 3)
    assert rows(to, 2) == []


@pytest.mark.parametrize("seed", range(20))
def test_salvage_brings_sound_rows_out_of_a_file_with_a_spoilt_page(
    store: Path, tmp_path: Path, seed: int
) -> None:
    true = {run: rows(store, run) for run in range(1, RUNS + 1)}
    data = bytearray(store.read_bytes())
    chance = random.Random(seed)
    page = 4096 * chance.randrange(1, len(data) // 4096)
    data[page : page + 4096] = chance.randbytes(4096)
    store.write_bytes(data)
    to = tmp_path / "new.db"
    try:
        salvage(store, to)
    except StoreError:
        assert not to.exists()
        return
    with open_store(to) as opened:
        for row in opened.runs():
            assert list(opened.run(row.run).rows()) in (true[row.run], [])


@pytest.mark.parametrize(
    "content", [b"", b"text", b"\0" * 9000, b"SQLite format 3\0" + b"x" * 9000]
)
def test_salvage_of_what_is_no_store_is_one_line(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "x.db").write_bytes(content)
    done = in_process("salvage", tmp_path / "x.db", "--to", tmp_path / "new.db")
    assert done.returncode == 1
    assert len(done.stderr.splitlines()) == 1
    assert not list(tmp_path.glob("new.db*"))


def test_salvage_without_the_first_page_loses_no_file(store: Path, tmp_path: Path) -> None:
    before = store.read_bytes()
    store.write_bytes(b"\xff" * 4096 + before[4096:])
    done = in_process("salvage", store, "--to", tmp_path / "new.db")
    assert done.returncode == 1
    assert store.read_bytes()[4096:] == before[4096:]


def test_salvage_to_nowhere_is_one_line(store: Path, tmp_path: Path) -> None:
    done = in_process("salvage", store, "--to", tmp_path / "nowhere" / "new.db")
    assert done.returncode == 1
    assert len(done.stderr.splitlines()) == 1


def test_salvage_of_a_store_in_use_brings_what_lies_in_its_log(tmp_path: Path) -> None:
    path = tmp_path / "live.db"
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(seq)) for seq in range(10)])
        salvage(path, tmp_path / "new.db")
    assert len(rows(tmp_path / "new.db", run)) == 10
