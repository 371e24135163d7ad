"""A copy of a store: complete, in one file, sound, or not made at all."""

import sqlite3
from pathlib import Path

import pytest

from monitor.base.errors import StoreDamaged
from monitor.store.backup import CopyNotMade, back_up
from monitor.store.failures import NoSuchStore
from monitor.store.reader import open_store
from tests.monitor.store.bench import a_run, a_sample, a_store
from tests.monitor.store.test_sealing import record, some_rows, strip_guards


def test_a_live_store_is_copied_with_the_rows_that_lie_in_its_log(tmp_path: Path) -> None:
    path, to = tmp_path / "a.db", tmp_path / "copy.db"
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(seq)) for seq in range(5000)])
        with open_store(path) as store:
            assert not store.stands_alone
        back_up(path, to)
        writer.write([(run, a_sample(5000))])
    assert sorted(file.name for file in tmp_path.iterdir()) == ["a.db", "copy.db"]
    with open_store(to) as copy:
        assert copy.stands_alone
        assert [row.seq for row in copy.run(run).rows()] == list(range(5000))


def test_a_copy_can_be_recorded_into(tmp_path: Path) -> None:
    rows = some_rows(300)
    run = record(tmp_path / "a.db", rows)
    back_up(tmp_path / "a.db", tmp_path / "copy.db")
    with a_store(tmp_path / "copy.db") as writer:
        assert writer.set_aside is None
        assert a_run(writer) == run + 1
    with open_store(tmp_path / "copy.db") as copy:
        assert list(copy.run(run).rows()) == rows


def test_an_older_copy_is_replaced_only_by_a_whole_one(tmp_path: Path) -> None:
    to = tmp_path / "copy.db"
    to.write_text("older")
    with pytest.raises(NoSuchStore):
        back_up(tmp_path / "nowhere.db", to)
    assert to.read_text() == "older"
    record(tmp_path / "a.db", some_rows(100))
    strip_guards(
        tmp_path / "a.db", "UPDATE chunks SET amps_packed = volts_packed WHERE first_seq = 0"
    )
    with pytest.raises(StoreDamaged, match="not those that were recorded"):
        back_up(tmp_path / "a.db", to)
    assert to.read_text() == "older"
    assert not list(tmp_path.glob("*.part"))


def test_no_folder_and_the_store_itself_are_refused(tmp_path: Path) -> None:
    record(tmp_path / "a.db", some_rows(10))
    with pytest.raises(CopyNotMade, match="No such file or directory"):
        back_up(tmp_path / "a.db", tmp_path / "nowhere" / "copy.db")
    for place in (tmp_path, tmp_path / "a.db"):
        with pytest.raises(CopyNotMade, match="name another file"):
            back_up(tmp_path / "a.db", place)


def test_how_far_it_has_come_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("monitor.store.backup.PAGES_AT_ONCE", 5)
    record(tmp_path / "a.db", some_rows(2000))
    told: list[tuple[int, int]] = []
    back_up(tmp_path / "a.db", tmp_path / "copy.db", lambda left, every: told.append((left, every)))
    assert len(told) > 3
    assert told[-1][0] == 0
    pages = sqlite3.connect(tmp_path / "copy.db").execute("PRAGMA page_count").fetchone()[0]
    assert told[-1][1] == pages
