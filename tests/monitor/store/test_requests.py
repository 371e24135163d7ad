"""What the operator asks for reaches the recorder once, and the screen learns the outcome."""

import sqlite3
from pathlib import Path

import pytest

from monitor.base.errors import NoSuchRun, StoreError
from monitor.model.event import Mark
from monitor.model.request import Request, RequestKind
from monitor.store.reader import open_store
from monitor.store.requests import RequestBox
from tests.clock import HandClock
from tests.monitor.store.bench import BEGAN_UTC_NS, a_run, a_sample, a_store


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "a.db"


def test_a_request_is_taken_up_once_and_its_outcome_comes_back(path: Path) -> None:
    clock = HandClock()
    box = RequestBox(path, clock)
    with a_store(path) as writer:
        run, other = a_run(writer, clock), a_run(writer)
        number = box.ask(run, RequestKind.ACKNOWLEDGE, "tripped#1", "Ana")
        box.ask(run, RequestKind.MARK)
        clock.pass_s(1)
        assert writer.take_requests(other) == []
        first, second = writer.take_requests(run)
        assert writer.take_requests(run) == []
        asked = Request(
            *(number, run, BEGAN_UTC_NS, RequestKind.ACKNOWLEDGE, "tripped#1", "Ana"),
            taken_utc_ns=BEGAN_UTC_NS + 1_000_000_000,
        )
        assert first == asked
        assert second.kind is RequestKind.MARK
        with open_store(path) as store:
            assert [one.outcome for one in store.run(run).requests()] == [None, None]
            writer.answer_request(first, "acknowledged")
            assert [one.outcome for one in store.run(run).requests()] == ["acknowledged", None]


def test_a_screen_reads_the_newest_requests_only(path: Path) -> None:
    with a_store(path) as writer:
        run, other = a_run(writer), a_run(writer)
        box = RequestBox(path)
        numbers = [box.ask(run, RequestKind.MARK, f"{count}") for count in range(5)]
        box.ask(other, RequestKind.MARK)
    with open_store(path) as store:
        stored = store.run(run)
        assert [one.request for one in stored.requests()] == numbers
        assert [one.request for one in stored.requests(newest=2)] == numbers[-2:]


def test_a_request_that_nobody_has_taken_up_is_seen_as_such(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        RequestBox(path).ask(run, RequestKind.END_RUN)
        with open_store(path) as store:
            (waiting,) = store.run(run).requests()
    assert (waiting.taken_utc_ns, waiting.outcome) == (None, None)


def test_a_request_of_a_newer_screen_is_answered_and_not_taken_up(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        newer = sqlite3.connect(path)
        newer.execute("INSERT INTO requests (run, utc_ns, kind) VALUES (?, 1, 'dance')", (run,))
        newer.commit()
        assert writer.take_requests(run) == []
        assert newer.execute("SELECT outcome FROM requests").fetchone() == ("not understood",)
        newer.close()
        with open_store(path) as store:
            assert store.run(run).requests() == []


def test_a_request_to_a_run_that_is_not_there_or_has_ended_is_refused(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        writer.end_run(run, None, "done")
    with pytest.raises(NoSuchRun, match="no run 8"):
        RequestBox(path).ask(8, RequestKind.MARK)
    with pytest.raises(StoreError, match="has ended"):
        RequestBox(path).ask(run, RequestKind.MARK)


def test_the_text_of_a_mark_can_come_later_and_the_mark_stays(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(0)), (run, Mark(1, 10, 20)), (run, Mark(2, 30, 40, "haze"))])
        writer.end_run(run, None, "done")
    box = RequestBox(path)
    box.add_mark_text(run, 1, "bluish still")
    box.add_mark_text(run, 2, "gone after 20 s")
    box.add_mark_text(run, 2, "polished")
    with open_store(path) as store:
        assert store.run(run).marks() == [
            Mark(1, 10, 20, "bluish still"),
            Mark(2, 30, 40, "haze; gone after 20 s; polished"),
        ]
    kept = sqlite3.connect(path)
    assert kept.execute("SELECT text FROM marks ORDER BY number").fetchall() == [("",), ("haze",)]
    kept.close()


def test_a_text_for_a_mark_that_is_not_there_is_refused(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        with pytest.raises(StoreError, match="has no mark 3"):
            RequestBox(path).add_mark_text(run, 3, "x")
