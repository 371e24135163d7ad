"""Each change of an alarm, told whole: which, of which row, when, by whom, and in which words."""

import pytest

from monitor.alarms.board import Board
from monitor.alarms.catalogue import BY_NAME
from monitor.model.alarm import SHELF_NS, AlarmEvent, AlarmName, Change, Priority, State
from monitor.model.estimate import Forecast
from monitor.model.finding import Finding
from monitor.model.sample import Sample

SEQ, T_NS = 7, 9_000_000_000


def row(seq: int, t_ns: int) -> Sample:
    return Sample(seq, t_ns, 0, 1000, 9.0, 8.0)


def raised(alarm: AlarmName = AlarmName.NOT_RECORDING) -> Board:
    """A board on which one alarm stands, raised by row 5."""
    board = Board()
    found = (Finding(alarm, True, "words", at_once=True),)
    (event,) = board.update(row(5, 5_000_000_000), found, Forecast())
    kind = BY_NAME[alarm]
    assert event == AlarmEvent(
        alarm,
        1,
        Change.RAISED,
        State.UNACKNOWLEDGED,
        kind.priority,
        5,
        5_000_000_000,
        "words",
    )
    return board


def told(change: Change, state: State, message: str, by: str, occurrence: int = 1) -> AlarmEvent:
    """An event of the recorder's own alarm, made by row SEQ."""
    priority = BY_NAME[AlarmName.NOT_RECORDING].priority
    return AlarmEvent(
        AlarmName.NOT_RECORDING, occurrence, change, state, priority, SEQ, T_NS, message, by=by
    )


@pytest.mark.parametrize(("by", "words"), [("Ada", " by Ada"), ("", "")])
def test_what_the_operator_does_is_told_whole(by: str, words: str) -> None:
    assert raised().acknowledge(AlarmName.NOT_RECORDING, 1, by, SEQ, T_NS) == told(
        Change.ACKNOWLEDGED, State.ACKNOWLEDGED, f"acknowledged{words}", by
    )
    board = raised()
    assert board.shelve(AlarmName.NOT_RECORDING, 1, by, SEQ, T_NS) == told(
        Change.SHELVED, State.SHELVED, f"shelved for 10 min{words}", by
    )
    assert board.unshelve(AlarmName.NOT_RECORDING, by, SEQ, T_NS) == told(
        Change.UNSHELVED, State.UNACKNOWLEDGED, f"unshelved{words}", by, occurrence=2
    )


def test_the_end_of_a_shelf_is_told_whole_and_once() -> None:
    board = raised()
    board.shelve(AlarmName.NOT_RECORDING, 1, "Ada", SEQ, T_NS)
    over_ns = T_NS + SHELF_NS
    assert board.update(row(8, over_ns - 1), (), Forecast()) == []
    (event,) = board.update(row(9, over_ns), (), Forecast())
    assert (event.change, event.seq, event.t_ns) == (Change.UNSHELVED, 9, over_ns)
    assert event.message == "the shelving time is over"
    assert board.update(row(10, over_ns + 1), (), Forecast()) == []


def test_only_what_is_on_the_shelf_comes_back_from_it() -> None:
    board = raised()
    acknowledged = board.acknowledge(AlarmName.NOT_RECORDING, 1, "", SEQ, T_NS)
    assert acknowledged is not None
    assert acknowledged.shelved_until_ns is None
    shelved = board.shelve(AlarmName.NOT_RECORDING, 1, "", SEQ, T_NS)
    assert shelved is not None
    assert shelved.shelved_until_ns == T_NS + SHELF_NS


def test_out_of_service_and_back_is_told_whole() -> None:
    board = raised()
    (out,) = board.keep_out_of_service(
        {AlarmName.NOT_RECORDING: "the disk is being changed"}, SEQ, T_NS
    )
    assert (out.seq, out.t_ns, out.state) == (SEQ, T_NS, State.OUT_OF_SERVICE)
    assert out.message == "out of service: the disk is being changed"
    assert board.keep_out_of_service({AlarmName.NOT_RECORDING: "again"}, SEQ, T_NS) == []
    (back,) = board.keep_out_of_service({}, SEQ + 1, T_NS + 1)
    assert (back.seq, back.t_ns, back.message) == (SEQ + 1, T_NS + 1, "back in service")
    assert board.keep_out_of_service({}, SEQ, T_NS) == []


def test_a_forgotten_alarm_of_another_version_hinders_no_other() -> None:
    event = raised().acknowledge(AlarmName.NOT_RECORDING, 1, "", SEQ, T_NS)
    assert event is not None
    stranger = AlarmEvent(
        "no-such", 1, Change.RAISED, State.UNACKNOWLEDGED, Priority.HIGH, 1, 1, "of another version"
    )
    board = Board()
    board.restore([stranger, event])
    assert board.state(AlarmName.NOT_RECORDING) is State.ACKNOWLEDGED


def test_an_alarm_taken_out_before_it_ever_came_has_its_own_priority() -> None:
    board = Board()
    event = board.take_out_of_service(AlarmName.DISK_LOW, "no disk", SEQ, T_NS)
    assert event is not None
    assert event.priority is BY_NAME[AlarmName.DISK_LOW].priority


def test_a_suppressed_alarm_comes_only_once_its_cause_is_gone() -> None:
    kind = next(kind for kind in BY_NAME.values() if AlarmName.TRIPPED in kind.suppressed_by)
    board = raised(AlarmName.TRIPPED)
    found = Finding(kind.name, True, "too", at_once=True)
    (event,) = board.update(row(6, 6_000_000_000), (found,), Forecast())
    assert event.state is State.SUPPRESSED
    assert board.update(row(7, 7_000_000_000), (found,), Forecast()) == []
    gone = Finding(AlarmName.TRIPPED, False, "delivers", at_once=True)
    events = board.update(row(8, 8_000_000_000), (gone, found), Forecast())
    assert (kind.name, State.UNACKNOWLEDGED) in [(one.alarm, one.state) for one in events]


@pytest.mark.parametrize("alarm", [AlarmName.CURRENT_LIMITED, AlarmName.TRIP_EXPECTED])
def test_a_condition_that_is_not_known_says_nothing(alarm: AlarmName) -> None:
    board = Board()
    for seq in range(100):
        unknown = Finding(alarm, None, "no data", at_once=True)
        assert board.update(row(seq, seq * 10**9), (unknown,), Forecast()) == []
    assert board.state(alarm) is State.NORMAL
