"""The cursor: it moves past what is dealt with, and goes back where a server may have lost it."""

from pathlib import Path

import pytest

from monitor.store.forward_ledger import MARGIN_S, ForwardLedger
from monitor.store.forward_rows import NO_END, Kind, Outcome, Piece, Stretch
from monitor.store.forward_state import quarantined
from monitor.store.writer import StoreWriter
from tests.clock import HandClock
from tests.monitor.forward.bench import state_of, store_with
from tests.monitor.store.bench import FACTS

SECOND = 1_000_000_000


@pytest.fixture(name="path")
def a_path(tmp_path: Path) -> Path:
    path = tmp_path / "a.db"
    store_with(path, 100, has_ended=False)
    return path


@pytest.fixture(name="ledger")
def a_ledger(path: Path) -> ForwardLedger:
    ledger = ForwardLedger(path, "here")
    ledger.follow_runs()
    return ledger


def reading(ledger: ForwardLedger) -> Stretch:
    (found,) = [one for one in ledger.live() if one.kind is Kind.READING]
    return found


def settle(ledger: ForwardLedger, until: int, at_s: float = 0.0) -> None:
    piece = Piece(reading(ledger), until)
    ledger.settle([piece], Outcome(sent=1), 7, round(at_s * SECOND))


def test_a_new_run_is_followed_from_its_beginning(path: Path, ledger: ForwardLedger) -> None:
    assert {(one.kind, one.next_place, one.ends) for one in ledger.live()} == {
        (kind, 0, None) for kind in Kind
    }
    assert state_of(path).behind == 100


def test_the_cursor_outlives_the_forwarder(path: Path, ledger: ForwardLedger) -> None:
    settle(ledger, 40)
    ledger.close()
    again = ForwardLedger(path, "here")
    again.follow_runs()
    assert reading(again).next_place == 40
    assert state_of(path).behind == 60


def test_another_place_gets_everything(path: Path, ledger: ForwardLedger) -> None:
    settle(ledger, 40)
    other = ForwardLedger(path, "there")
    other.follow_runs()
    assert reading(other).next_place == 0
    assert reading(ledger).next_place == 40


def test_what_was_taken_within_the_margin_of_the_last_success_is_sent_again(
    ledger: ForwardLedger,
) -> None:
    for until, at_s in ((10, 0.0), (20, 5.0), (30, MARGIN_S + 4.0), (40, MARGIN_S + 4.5)):
        settle(ledger, until, at_s)
    ledger.distrust()
    # Taken one after the other, so one stretch; the first was safe on the server's disk by then.
    (again,) = ledger.waiting(is_again=True, count=9)
    assert (again.kind, again.next_place, again.ends) == (Kind.READING, 10, 40)
    assert reading(ledger).next_place == 40
    ledger.distrust()
    assert len(ledger.waiting(is_again=True, count=9)) == 1


def test_what_follows_an_ended_run_ends_with_it_but_marks_may_get_texts_later(
    path: Path, ledger: ForwardLedger
) -> None:
    with StoreWriter(path, clock=HandClock()) as writer:
        writer.end_run(1, None, "ended")
        writer.begin_run(FACTS, clock=HandClock(), program="bathvigil test")
    ledger.follow_runs()
    waiting = {one.kind: one.ends for one in ledger.waiting(is_again=False, count=9)}
    assert waiting == dict.fromkeys([Kind.READING, Kind.ESTIMATE, Kind.ALARM], NO_END)
    assert [(one.run, one.kind) for one in ledger.live()] == [
        (1, Kind.MARK), (2, Kind.READING), (2, Kind.ESTIMATE)
    ]  # fmt: skip


def test_a_split_leaves_the_older_part_for_later(path: Path, ledger: ForwardLedger) -> None:
    settle(ledger, 10)
    ledger.split(reading(ledger), 90)
    assert reading(ledger).next_place == 90
    (older,) = ledger.waiting(is_again=False, count=9)
    assert (older.next_place, older.ends) == (10, 90)
    assert state_of(path).behind == 90
    ledger.settle([Piece(older, 90)], Outcome(), 7, 0)
    assert ledger.waiting(is_again=False, count=9) == []
    assert state_of(path).behind == 10


def test_bad_points_are_kept_once_with_the_servers_words(path: Path, ledger: ForwardLedger) -> None:
    outcome = Outcome(sent=3, left_out=2, too_old=4, quarantined=(("bath a=1 5", "422 no"),))
    ledger.settle([], outcome, 7, 0)
    ledger.settle([], outcome, 8, 0)
    assert quarantined(path) == [("bath a=1 5", "422 no")]
    state = state_of(path)
    assert (state.sent, state.left_out, state.too_old, state.quarantined) == (6, 4, 8, 1)
    assert state.last_ok_utc_ns == 8


def test_nothing_taken_is_no_success(path: Path, ledger: ForwardLedger) -> None:
    ledger.settle([], Outcome(too_old=1), 7, 0)
    assert state_of(path).last_ok_utc_ns is None


def test_the_last_failure_is_kept_in_words(path: Path, ledger: ForwardLedger) -> None:
    ledger.note_trouble("503 restarting", 9)
    state = state_of(path)
    assert (state.place, state.trouble, state.trouble_utc_ns) == ("here", "503 restarting", 9)
