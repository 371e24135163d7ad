"""A store that cannot be used says why and what to do, loses nothing, and works again after."""

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.base.errors import StoreDamaged, StoreError, StoreFromNewerVersion
from monitor.model.alarm import AlarmEvent, Change, Priority, State
from monitor.model.request import RequestKind
from monitor.store.failures import (
    NoSuchStore,
    NotAStore,
    StoreBusy,
    StoreFull,
    StoreGone,
    StoreReadOnly,
    StoreUnreachable,
    store_error,
)
from monitor.store.reader import open_store
from monitor.store.requests import RequestBox
from monitor.store.schema import APPLICATION_ID, VERSION
from monitor.store.writer import StoreWriter
from tests.monitor.store.bench import Connections, a_gap, a_run, a_sample, a_store


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "a.db"


def seqs(path: Path, run: int) -> list[int]:
    with open_store(path) as store:
        return [row.seq for row in store.run(run).rows()]


def a_finished_store(path: Path, samples: int = 2000, is_ended: bool = True) -> int:
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(seq)) for seq in range(samples)])
        if is_ended:
            writer.end_run(run, None, "done")
    return run


def test_a_full_disk_loses_nothing_that_was_there_and_the_batch_can_be_written_later(
    path: Path, connections: Connections
) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(0))])
        # SQLite's own limit gives the same code as a disk without room.
        connection = connections[-1]
        connection.execute("PRAGMA max_page_count = 1")
        batch = [(run, a_sample(seq)) for seq in range(1, 3000)]
        for _ in range(2):
            with pytest.raises(StoreFull, match=r"a\.db: its disk is full; free some space"):
                writer.write(batch)
            assert seqs(path, run) == [0]
        connection.execute("PRAGMA max_page_count = 1000000")
        writer.write(batch)
    assert seqs(path, run) == list(range(3000))


def test_another_programs_lock_is_told_and_the_batch_can_be_written_after_it(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        stranger = sqlite3.connect(path, isolation_level=None)
        stranger.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreBusy, match="another program has locked it; close"):
            writer.write([(run, a_sample(0))])
        stranger.execute("ROLLBACK")
        stranger.close()
        writer.write([(run, a_sample(0))])
    assert seqs(path, run) == [0]


def test_a_store_that_may_not_be_written_says_so(path: Path, connections: Connections) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        # The same code as for a read-only disk, which a test cannot mount.
        connections[-1].execute("PRAGMA query_only = ON")
        with pytest.raises(StoreReadOnly, match="check the permissions"):
            writer.write([(run, a_sample(0))])


def test_a_deleted_file_is_noticed_instead_of_being_written_into_nowhere(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        path.unlink()
        with pytest.raises(StoreGone, match="deleted, moved or replaced"):
            writer.write([(run, a_sample(0))])


def test_a_bug_of_ours_is_not_taken_for_a_failing_disk_and_nothing_of_its_batch_stays(
    path: Path,
) -> None:
    nothing = AlarmEvent(
        "x",
        1,
        Change.RAISED,
        State.NORMAL,
        Priority.LOW,
        0,
        0,
        None,  # type: ignore[arg-type]  # what the table must not take
    )
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(0))])
        with pytest.raises(sqlite3.IntegrityError):
            writer.write([(run, a_gap(1)), (run, nothing)])
        writer.write([(run, a_gap(1)), (run, a_sample(2))])
    assert seqs(path, run) == [0, 1, 2]
    with open_store(path) as store:
        assert [(gap.began_seq, gap.polls) for gap in store.run(run).gaps()] == [(1, 1)]
        assert store.run(run).summary().samples == 2


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreUnreachable, match="its folder cannot be made"):
        StoreWriter(tmp_path / "file" / "a.db")


def test_a_folder_in_the_place_of_the_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(StoreUnreachable, match="cannot be opened"):
        StoreWriter(tmp_path)
    with pytest.raises(NotAStore, match="is not a file"):
        open_store(tmp_path)


@pytest.mark.parametrize("use", [StoreWriter, open_store], ids=["writer", "reader"])
@pytest.mark.parametrize("version", [0, 1])
def test_another_programs_database_is_refused_and_untouched(
    path: Path, use: Callable[[Path], object], version: int
) -> None:
    stranger = sqlite3.connect(path)
    stranger.execute("CREATE TABLE addresses (name)")
    stranger.execute(f"PRAGMA user_version = {version}")
    stranger.close()
    before = path.read_bytes()
    with pytest.raises(NotAStore, match="an SQLite file of another program"):
        use(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("use", [StoreWriter, open_store], ids=["writer", "reader"])
def test_a_text_file_is_refused_and_untouched(path: Path, use: Callable[[Path], object]) -> None:
    text = b"t_s,volts,amps\r\n" * 300
    path.write_bytes(text)
    with pytest.raises(NotAStore, match="name another file with --store"):
        use(path)
    assert path.read_bytes() == text


@pytest.mark.parametrize("use", [StoreWriter, open_store], ids=["writer", "reader"])
def test_a_store_of_a_newer_version_is_refused_with_the_cure(
    path: Path, use: Callable[[Path], object]
) -> None:
    a_finished_store(path, 1)
    stranger = sqlite3.connect(path)
    stranger.execute(f"PRAGMA user_version = {VERSION + 1}")
    stranger.close()
    with pytest.raises(StoreFromNewerVersion, match="bring bathvigil up to date"):
        use(path)


def test_a_schema_format_that_sqlite_does_not_know_is_damage(path: Path) -> None:
    # Offset 44 of the header, 1 to 4: https://www.sqlite.org/fileformat2.html
    a_finished_store(path, 1)
    data = bytearray(path.read_bytes())
    data[44:48] = b"\0\0\0\x2c"
    path.write_bytes(data)
    with pytest.raises(StoreDamaged, match="unsupported file format"):
        open_store(path)


def test_a_store_that_is_not_there_is_not_made_by_reading(path: Path) -> None:
    with pytest.raises(NoSuchStore, match="there is no such store"):
        open_store(path)
    with pytest.raises(NoSuchStore):
        RequestBox(path).ask(1, RequestKind.MARK)
    assert not path.exists()


def test_whoever_looks_for_the_demos_runs_is_told_where_they_are(path: Path) -> None:
    with pytest.raises(NoSuchStore) as without:
        open_store(path)
    demo = path.with_name("demo.db")
    a_finished_store(demo, 1)
    with pytest.raises(NoSuchStore) as told:
        open_store(path)
    assert str(demo) in str(told.value)
    assert str(demo) not in str(without.value)


def test_a_store_that_is_only_just_being_made_holds_nothing_yet(path: Path) -> None:
    path.write_bytes(b"")
    with pytest.raises(NoSuchStore, match="nothing has been recorded"):
        open_store(path)


def test_a_damaged_store_is_set_aside_and_a_new_one_begun(path: Path) -> None:
    run = a_finished_store(path)
    sound = bytearray(path.read_bytes())
    # The header stays, every page behind the schema is overwritten.
    sound[3 * 4096 :] = b"\xa5" * (len(sound) - 3 * 4096)
    path.write_bytes(sound)
    with a_store(path) as writer:
        aside = writer.set_aside
        new = a_run(writer)
        writer.write([(new, a_sample(0))])
    assert aside is not None
    assert aside.name == "a.damaged-20250615T150640Z.db"
    assert aside.read_bytes() == sound
    assert seqs(path, new) == [0]
    assert run == new == 1


def test_a_store_whose_header_is_spoilt_is_still_known_as_ours(path: Path) -> None:
    a_finished_store(path, 10)
    spoilt = bytearray(path.read_bytes())
    spoilt[3] ^= 0x10
    path.write_bytes(spoilt)
    with pytest.raises(StoreDamaged, match="damaged"):
        open_store(path)
    with a_store(path) as writer:
        assert writer.set_aside is not None


def test_damage_met_while_reading_is_told(path: Path) -> None:
    run = a_finished_store(path, is_ended=False)
    spoilt = bytearray(path.read_bytes())
    spoilt[-20 * 4096 :] = b"\xa5" * (20 * 4096)
    path.write_bytes(spoilt)
    with open_store(path) as store, pytest.raises(StoreDamaged, match="keep a copy"):
        list(store.run(run).rows())


def test_a_code_that_nobody_knows_is_damage(path: Path) -> None:
    run = a_finished_store(path, 1, is_ended=False)
    stranger = sqlite3.connect(path)
    stranger.execute(f"INSERT INTO samples VALUES ({run}, 9, 1, 1, 1, 1, 1, 1, 77, 0, NULL)")
    stranger.commit()
    stranger.close()
    with open_store(path) as store, pytest.raises(StoreDamaged, match="77"):
        list(store.run(run).rows())


def test_a_view_that_never_ends_in_the_place_of_a_table_is_refused(path: Path) -> None:
    a_finished_store(path, 1)
    hostile = sqlite3.connect(path)
    hostile.execute("ALTER TABLE samples RENAME TO hidden")
    hostile.execute(
        "CREATE VIEW samples AS WITH RECURSIVE n(seq) AS (SELECT 1 UNION ALL SELECT seq FROM n) "
        "SELECT seq FROM n"
    )
    hostile.close()
    with pytest.raises(StoreDamaged, match="not those of a store"):
        open_store(path)


def test_a_value_of_monstrous_size_is_refused(path: Path) -> None:
    run = a_finished_store(path, 1, is_ended=False)
    hostile = sqlite3.connect(path)
    hostile.execute(
        f"INSERT INTO samples VALUES ({run}, 9, 1, 1, 1, 1, 1, 1, 0, 0, ?)", ("x" * 5_000_000,)
    )
    hostile.commit()
    hostile.close()
    with open_store(path) as store, pytest.raises(StoreDamaged, match="too big"):
        list(store.run(run).rows())


def test_a_large_store_is_used_before_it_has_been_read_through(path: Path) -> None:
    run = a_finished_store(path)
    with StoreWriter(path, check_within_s=-1.0) as writer:
        assert writer.set_aside is None
        assert writer.unfinished_runs("bench-1") == []
    assert seqs(path, run)[-1] == 1999


def test_the_file_carries_our_number_where_sqlite_keeps_it(path: Path) -> None:
    # Offset 68, four bytes, the most significant first: https://www.sqlite.org/fileformat2.html
    a_finished_store(path, 1)
    assert path.read_bytes()[68:72] == APPLICATION_ID.to_bytes(4, "big") == b"BATV"


def test_the_recorder_commits_to_the_disk_through_a_log_of_bounded_size(
    path: Path, connections: Connections
) -> None:
    with a_store(path):

        def setting(name: str) -> object:
            return connections[-1].execute(f"PRAGMA {name}").fetchone()[0]

        assert setting("journal_mode") == "wal"
        # 2 is FULL: https://www.sqlite.org/pragma.html#pragma_synchronous
        assert setting("synchronous") == 2
        assert setting("trusted_schema") == 0
        assert setting("journal_size_limit") == 16 * 1024 * 1024


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("SQLITE_FULL", StoreFull),
        ("SQLITE_BUSY_SNAPSHOT", StoreBusy),
        ("SQLITE_READONLY_DIRECTORY", StoreReadOnly),
        ("SQLITE_READONLY_DBMOVED", StoreGone),
        ("SQLITE_CANTOPEN_ISDIR", StoreUnreachable),
        ("SQLITE_IOERR_FSYNC", StoreUnreachable),
        ("SQLITE_CORRUPT_INDEX", StoreDamaged),
        ("SQLITE_ERROR", None),
        ("SQLITE_CONSTRAINT_NOTNULL", None),
        (None, None),
    ],
)
def test_each_result_code_becomes_what_the_user_should_do(
    name: str | None, kind: type[StoreError] | None
) -> None:
    # Names of the codes: https://www.sqlite.org/rescode.html
    error = sqlite3.OperationalError("x")
    if name is not None:
        error.sqlite_errorname = name
    clear = store_error(Path("a.db"), error)
    assert type(clear) is (kind or type(None))
