"""An older store is brought up to date once, whole or not at all, and a copy of it is kept."""

import signal
import sqlite3
import subprocess
import sys
from contextlib import closing, suppress
from pathlib import Path

import pytest

from monitor.base.errors import StoreFromNewerVersion
from monitor.model.alarm import AlarmEvent
from monitor.model.event import Mark
from monitor.model.outcome import Gone, Outcome
from monitor.store.failures import NoSuchStore
from monitor.store.migration import bring_up_to_date, set_aside, statements
from monitor.store.opening import expected_schema
from monitor.store.reader import open_store
from monitor.store.schema import OLDEST_READ, STEPS, VERSION
from monitor.store.tables import ALARMS
from monitor.store.writer import StoreWriter
from tests.monitor.store.bench import (
    BEGAN_UTC_NS,
    a_gap,
    a_run,
    a_sample,
    a_store,
    an_estimate,
    an_event,
)

LATER = (
    *STEPS,
    """
    -- A column; and a trigger, whose body holds semicolons of its own;
    ALTER TABLE runs ADD COLUMN part TEXT NOT NULL DEFAULT 'a;b';
    CREATE TRIGGER part_has_a_name BEFORE UPDATE ON runs WHEN new.part = ''
        BEGIN SELECT RAISE(ABORT, 'name the part'); SELECT 1; END;
    """,
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "a.db"
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(seq)) for seq in range(10)])
    return path


def ask(path: Path, question: str) -> object:
    connection = sqlite3.connect(path)
    try:
        return connection.execute(question).fetchone()[0]
    finally:
        connection.close()


def write_event(path: Path, run: int, event: AlarmEvent) -> None:
    """Add an event as the step of that file has it."""
    with closing(sqlite3.connect(path)) as connection, connection:
        known = {row[1] for row in connection.execute("PRAGMA table_info(alarms)")}
        pairs = zip(ALARMS.names, ALARMS.cells(event), strict=True)
        cells = {"run": run} | {name: cell for name, cell in pairs if name in known}
        sql = f"INSERT INTO alarms ({', '.join(cells)}) VALUES ({', '.join('?' * len(cells))})"
        connection.execute(sql, tuple(cells.values()))


def test_a_new_store_has_this_version(path: Path) -> None:
    assert ask(path, "PRAGMA user_version") == VERSION
    assert a_store(path).older_copy is None


def test_an_older_store_gets_the_steps_that_it_lacks_and_a_copy_is_kept(path: Path) -> None:
    with StoreWriter(path, steps=LATER) as writer:
        kept = writer.older_copy
        assert writer.unfinished_runs("bench-1")
    assert kept == path.with_name(f"a.version-{VERSION}.db")
    assert ask(path, "PRAGMA user_version") == len(LATER)
    assert ask(path, "SELECT part FROM runs") == "a;b"
    assert ask(path, "SELECT count(*) FROM samples") == 10
    with open_store(kept) as store:
        assert len(list(store.run(1).rows())) == 10


@pytest.mark.parametrize("version", range(1, VERSION))
def test_a_store_of_every_version_before_is_brought_up_to_date_with_all_its_rows(
    version: int, tmp_path: Path
) -> None:
    older = tmp_path / "older.db"
    rows = [a_sample(seq) if seq % 7 else a_gap(seq) for seq in range(300)]
    with StoreWriter(older, steps=STEPS[:version]) as writer:
        run = a_run(writer)
        writer.write([(run, row) for row in rows])
        writer.write([(run, an_estimate(3)), (run, Mark(1, 7, 8, "hazy"))])
    write_event(older, run, an_event(3))
    if version < OLDEST_READ:
        with pytest.raises(NoSuchStore, match="an older bathvigil wrote it"):
            open_store(older)
    else:
        before = older.read_bytes()
        with open_store(older) as store:
            assert store.run(run).alarms() == [an_event(3)]
        assert older.read_bytes() == before
    with a_store(older) as writer:
        assert writer.older_copy == older.with_name(f"older.version-{version}.db")
        (found,) = writer.unfinished_runs("bench-1")
        writer.write([(run, a_sample(300))])
        writer.end_run(found.run, None, "done")
    with open_store(older) as store:
        stored = store.run(run)
        assert list(stored.rows()) == [*rows, a_sample(300)]
        assert list(stored.estimates()) == [an_estimate(3)]
        assert stored.alarms() == [an_event(3)]
        assert stored.marks() == [Mark(1, 7, 8, "hazy")]
        assert stored.what_is_unsound() is None
    with pytest.raises(StoreFromNewerVersion):
        StoreWriter(older, steps=STEPS[:version])


@pytest.mark.parametrize(
    ("wetted", "hazy", "seen"),
    [
        (1, 0, Outcome(Gone.YES, True)),
        (1, None, Outcome(Gone.YES, True)),
        (1, 1, Outcome(Gone.PATCHES, True)),
        (0, 0, Outcome(None, False)),
        (None, None, Outcome()),
    ],
)
def test_an_outcome_of_wetting_and_haze_answers_the_two_questions(
    wetted: int | None, hazy: int | None, seen: Outcome, tmp_path: Path
) -> None:
    older = tmp_path / "older.db"
    with StoreWriter(older, steps=STEPS[:10]) as writer:
        run = a_run(writer)
    with sqlite3.connect(older) as raw:
        raw.execute("INSERT INTO outcomes VALUES (1, ?, 5, ?, ?, '')", (run, wetted, hazy))
    raw.close()
    with open_store(older) as store:
        assert store.run(run).outcome() == seen
    with a_store(older), open_store(older) as store:
        assert store.run(run).outcome() == seen


TAKES_LONG = """
import sys
from pathlib import Path
from monitor.store.schema import STEPS
from monitor.store.writer import StoreWriter

numbers = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n LIMIT 30000000)"
step = f"CREATE TABLE longer (i); INSERT INTO longer {numbers} SELECT i FROM n;"
print("begun", flush=True)
StoreWriter(Path(sys.argv[1]), steps=(*STEPS, step))
"""


@pytest.mark.parametrize("after_s", [0.05, 0.3])
def test_a_program_killed_while_it_brings_a_store_up_to_date_leaves_it_as_it_was(
    path: Path, after_s: float
) -> None:
    command = [sys.executable, "-c", TAKES_LONG, str(path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        process.stdout.readline()
        with suppress(subprocess.TimeoutExpired):
            process.wait(after_s)
        process.send_signal(signal.SIGKILL)
    assert process.returncode == -signal.SIGKILL
    with a_store(path) as writer:
        assert (writer.set_aside, writer.older_copy) == (None, None)
        writer.write([(1, a_sample(10))])
    with open_store(path) as store:
        assert len(list(store.run(1).rows())) == 11


def test_the_copy_holds_what_still_lay_in_the_log(path: Path) -> None:
    with a_store(path) as writer:
        writer.write([(1, a_sample(10))])
        with StoreWriter(path, steps=LATER) as newer:
            kept = newer.older_copy
    assert kept is not None
    assert ask(kept, "SELECT count(*) FROM samples") == 11


def test_a_store_that_is_up_to_date_is_left_alone(path: Path) -> None:
    StoreWriter(path, steps=LATER).close()
    with StoreWriter(path, steps=LATER) as writer:
        assert writer.older_copy is None


def test_a_step_that_fails_leaves_the_store_as_it_was(path: Path) -> None:
    broken = (*STEPS, "ALTER TABLE runs ADD COLUMN part TEXT; INSERT INTO nowhere VALUES (1);")
    with pytest.raises(sqlite3.OperationalError, match="nowhere"):
        StoreWriter(path, steps=broken)
    assert ask(path, "PRAGMA user_version") == VERSION
    with open_store(path) as store:
        assert len(list(store.run(1).rows())) == 10
    # The program that knows how tries again, and keeps a copy of its own.
    with StoreWriter(path, steps=LATER) as writer:
        assert writer.older_copy == path.with_name(f"a.version-{VERSION}-2.db")


def test_two_programs_that_bring_it_up_to_date_at_once_do_it_once(path: Path) -> None:
    one, two = sqlite3.connect(path), sqlite3.connect(path)
    for connection in (one, two):
        connection.isolation_level = None
    asked: list[str] = []

    def the_other_is_quicker(statement: str) -> None:
        if statement == "BEGIN IMMEDIATE" and not asked:
            asked.append(statement)
            bring_up_to_date(two, path, LATER)

    one.set_trace_callback(the_other_is_quicker)
    bring_up_to_date(one, path, LATER)
    one.close()
    two.close()
    assert asked
    assert ask(path, "PRAGMA user_version") == len(LATER)


def test_the_statements_of_a_step_are_cut_apart_and_triggers_stay_whole() -> None:
    alter, trigger = statements(LATER[-1])
    assert alter.endswith("DEFAULT 'a;b';")
    assert trigger.startswith("CREATE TRIGGER")
    assert trigger.endswith("END;")


def test_a_store_made_step_by_step_has_the_schema_that_readers_compare_with(path: Path) -> None:
    connection = sqlite3.connect(path)
    found = set(connection.execute("SELECT type, name, sql FROM sqlite_schema WHERE sql NOTNULL"))
    connection.close()
    assert expected_schema() <= found


def test_a_damaged_store_is_set_aside_with_its_log_and_never_over_another(tmp_path: Path) -> None:
    for text in ("first", "second"):
        (tmp_path / "a.db").write_text(text)
        (tmp_path / "a.db-wal").write_text(f"log of the {text}")
        set_aside(tmp_path / "a.db", BEGAN_UTC_NS)
    assert {file.name: file.read_text() for file in tmp_path.iterdir()} == {
        "a.damaged-20250615T150640Z.db": "first",
        "a.damaged-20250615T150640Z.db-wal": "log of the first",
        "a.damaged-20250615T150640Z-2.db": "second",
        "a.damaged-20250615T150640Z-2.db-wal": "log of the second",
    }
