"""Keys: nothing dangerous on one of them, and a note cannot trap the operator."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tui.keys import ARMED_FOR_S, END_RUN, LIVE_KEYS, REVIEW_KEYS, SHELVE, TwoKeys
from tui.note import IDLE_S, LONGEST, Note

SECOND = 1_000_000_000
KEYS = st.sampled_from([*"eynmg+-?h0*/1xqz ", "enter", "space", "escape", "left", "up"])


def test_two_different_keys_in_a_row_end_the_run() -> None:
    for first, second in END_RUN.items():
        guard = TwoKeys()
        assert first != second
        assert not guard.press(first, 0)
        assert guard.is_armed
        assert guard.press(second, 2 * SECOND)


def test_a_second_key_in_the_same_instant_is_pasted_text_and_waited_for_on() -> None:
    guard = TwoKeys()
    guard.press("e", 0)
    assert not guard.press("y", SECOND // 20)
    assert guard.is_armed
    assert guard.press("y", SECOND)


def test_the_second_key_alone_does_nothing() -> None:
    guard = TwoKeys()
    assert not guard.press("y", 0)
    assert not guard.press("y", 1)


def test_the_second_key_too_late_does_nothing() -> None:
    guard = TwoKeys()
    guard.press("e", 0)
    assert not guard.press("y", int((ARMED_FOR_S + 0.1) * SECOND))
    assert not guard.is_armed


def test_any_other_key_between_them_lets_the_run_go_on() -> None:
    guard = TwoKeys()
    guard.press("e", 0)
    guard.press("m", 1)
    assert not guard.press("y", 2)


def test_the_same_key_twice_does_not_end_the_run() -> None:
    guard = TwoKeys()
    guard.press("e", 0)
    assert not guard.press("e", 1)


def test_the_second_key_of_another_pair_does_not_end_the_run() -> None:
    guard = TwoKeys()
    guard.press("e", 0)
    assert not guard.press("1", 1)


@given(st.lists(KEYS, max_size=60))
def test_no_other_sequence_ends_the_run(keys: list[str]) -> None:
    guard, ended_by = TwoKeys(), []
    for at, key in enumerate(keys):
        if guard.press(key, at * SECOND // 10):
            ended_by.append((keys[at - 1], key))
    assert set(ended_by) <= set(END_RUN.items())


@pytest.mark.parametrize(
    "rows",
    [
        ("qwertyuiop", "asdfghjkl", "zxcvbnm"),
        ("qwertzuiop", "asdfghjkl", "yxcvbnm"),
        ("azertyuiop", "qsdfghjklm", "wxcvbn"),
        ("n/*-", "789+", "456+", "123", "0."),
    ],
    ids=["qwerty", "qwertz", "azerty", "numeric pad"],
)
def test_the_two_keys_are_no_neighbours_that_a_glove_hits_together(rows: tuple[str, ...]) -> None:
    places = {key: (x, y) for y, row in enumerate(rows) for x, key in enumerate(row)}
    for first, second in (*END_RUN.items(), *SHELVE.items()):
        if first in places and second in places:
            (x, y), (u, v) = places[first], places[second]
            assert max(abs(x - u), abs(y - v)) > 1


def test_no_key_needs_ctrl_alt_or_a_function_key() -> None:
    for key in (*LIVE_KEYS, *REVIEW_KEYS):
        assert not any(word in name for name in key.names for word in ("Ctrl", "Alt", "F1"))


def test_a_note_is_kept_by_enter_and_dropped_by_escape() -> None:
    note = Note()
    note.open(0)
    for key in ["s", "w", "space", "x", "backspace", "o", "k"]:
        assert note.type(key, 0) == ""
    assert note.type("enter", 0) == "sw ok"
    assert not note.is_open
    note.open(0)
    note.type("a", 0)
    note.type("escape", 0)
    assert (note.is_open, note.text) == (False, "")


def test_a_note_left_alone_gives_the_keys_back() -> None:
    note = Note()
    note.open(0)
    note.type("a", SECOND)
    note.expire(int(IDLE_S) * SECOND)
    assert note.is_open
    note.expire(int(IDLE_S + 2) * SECOND)
    assert not note.is_open


def test_a_note_does_not_grow_without_end() -> None:
    note = Note()
    note.open(0)
    for _ in range(LONGEST + 50):
        note.type("x", 0)
    assert len(note.text) == LONGEST
