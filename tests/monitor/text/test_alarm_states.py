"""How alarms stand, in words: nothing is fine while nothing is known, and a shelf counts down."""

import pytest

from monitor.alarms.catalogue import OF_THE_RECORDER, is_unknown
from monitor.model.alarm import AlarmEvent, Change, Priority, State
from monitor.text import alarms
from monitor.text.alarms import STATES


def event(alarm: str, state: State = State.UNACKNOWLEDGED, t_s: float = 0.0) -> AlarmEvent:
    t_ns = round(t_s * 1e9)
    return AlarmEvent(alarm, 1, Change.RAISED, state, Priority.HIGH, 0, t_ns, "words")


def state_words(event: AlarmEvent, standing: tuple[AlarmEvent, ...], t_s: float | None) -> str:
    return alarms.state_words(event, is_unknown(event, standing), t_s)


def test_while_data_are_missing_the_other_alarms_are_unknown_and_not_fine() -> None:
    expected, silence = event("trip-expected", State.ACKNOWLEDGED), event("no-data")
    assert state_words(expected, (expected,), 5.0) == "acknowledged"
    words = state_words(expected, (expected, silence), 5.0)
    assert words == "UNKNOWN now, was acknowledged"


@pytest.mark.parametrize("alarm", OF_THE_RECORDER)
def test_what_the_recorder_knows_of_itself_stays_known(alarm: str) -> None:
    full, silence = event(alarm), event("no-data")
    assert state_words(full, (full, silence), 5.0) == "not acknowledged"
    assert state_words(silence, (full, silence), 5.0) == "not acknowledged"


def test_missing_data_that_are_back_make_nothing_unknown() -> None:
    expected = event("trip-expected")
    back = event("no-data", State.RETURNED_UNACKNOWLEDGED)
    assert state_words(expected, (expected, back), 5.0) == "not acknowledged"


def test_a_shelf_counts_down_to_ten_minutes_after_it_was_used() -> None:
    shelved = event("trip-expected", State.SHELVED, t_s=100.0)
    assert state_words(shelved, (shelved,), 102.0) == "shelved, back in 9:58"
    assert state_words(shelved, (shelved,), 900.0) == "shelved, back in 0:00"
    assert state_words(shelved, (shelved,), None) == "shelved"


def test_every_state_has_words() -> None:
    assert set(STATES) == set(State)
