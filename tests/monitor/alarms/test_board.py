"""Raise, acknowledge and return as an operator meets them."""

from dataclasses import dataclass, field

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from monitor.alarms.alarm import Change, State
from monitor.alarms.board import Board
from monitor.alarms.catalogue import KINDS, NO_DATA, TRIP_EXPECTED, TRIPPED
from monitor.alarms.conditions import Finding
from monitor.estimating.estimate import Forecast
from monitor.sample import Sample

SOON = Forecast(90.0, 60.0, 150.0, 0.7)


def row(seq: int, t_s: float) -> Sample:
    return Sample(seq, round(t_s * 1e9), 0, 1000, 9.0, 8.0)


def tell(board: Board, t_s: float, alarm: str, holds: bool | None) -> list[tuple[str, Change]]:
    finding = Finding(alarm, holds, "words")
    events = board.update(row(round(t_s * 5), t_s), (finding,), SOON)
    return [(event.alarm, event.change) for event in events]


def test_every_alarm_says_what_it_means_and_what_to_do() -> None:
    # ANSI/ISA-18.2: an alarm is what requires a timely response of the operator.
    for kind in KINDS:
        assert kind.meaning.endswith(".")
        assert kind.action.endswith(".")


def test_a_condition_shorter_than_the_on_delay_raises_nothing() -> None:
    board = Board()
    assert tell(board, 0.0, TRIP_EXPECTED, True) == []
    assert tell(board, 1.0, TRIP_EXPECTED, False) == []
    assert tell(board, 2.5, TRIP_EXPECTED, True) == []


def test_a_condition_that_lasts_raises_once_and_carries_the_forecast() -> None:
    board = Board()
    tell(board, 0.0, TRIP_EXPECTED, True)
    events = board.update(row(10, 2.0), (Finding(TRIP_EXPECTED, True, "soon"),), SOON)
    assert [event.change for event in events] == [Change.RAISED]
    assert (events[0].trip_in_s, events[0].trip_in_low_s, events[0].trip_in_high_s) == (
        90.0,
        60.0,
        150.0,
    )
    assert tell(board, 3.0, TRIP_EXPECTED, True) == []


def test_not_knowing_neither_raises_nor_returns() -> None:
    board = Board()
    tell(board, 0.0, TRIPPED, True)
    assert board.state(TRIPPED) is State.UNACKNOWLEDGED
    assert tell(board, 100.0, TRIPPED, None) == []
    assert board.state(TRIPPED) is State.UNACKNOWLEDGED


def test_an_acknowledgement_of_an_earlier_occurrence_hits_nothing() -> None:
    board = Board()
    tell(board, 0.0, NO_DATA, True)
    tell(board, 1.0, NO_DATA, False)
    tell(board, 2.0, NO_DATA, True)
    assert board.acknowledge(NO_DATA, 1, "", 0, 0) is None
    assert board.state(NO_DATA) is State.UNACKNOWLEDGED
    event = board.acknowledge(NO_DATA, 2, "Ada", 11, 5)
    assert event is not None
    assert (event.change, event.by) == (Change.ACKNOWLEDGED, "Ada")


def test_a_settled_matter_does_not_wait_for_the_off_delay() -> None:
    board = Board()
    for t_s in (0.0, 2.0):
        tell(board, t_s, TRIP_EXPECTED, True)
    gone = Finding(TRIP_EXPECTED, False, "the supply has cut out", at_once=True)
    events = board.update(row(11, 2.2), (gone,), Forecast(why="output is off"))
    assert [event.change for event in events] == [Change.RETURNED]


def test_a_restored_board_goes_on_where_the_events_ended() -> None:
    first = Board()
    events = first.update(row(0, 0.0), (Finding(NO_DATA, True, "silence"),), SOON)
    second = Board()
    second.restore(events)
    assert second.state(NO_DATA) is State.UNACKNOWLEDGED
    assert second.update(row(1, 1.0), (Finding(NO_DATA, True, "silence"),), SOON) == []
    assert second.acknowledge(NO_DATA, events[0].occurrence, "", 1, 1) is not None


@dataclass
class Reference:
    """The least that must be true of one latched alarm without delays, kept in plain words."""

    is_on: bool = False
    is_heard: bool = True
    raises: int = 0
    log: list[str] = field(default_factory=list)


class LatchedAlarm(RuleBasedStateMachine):
    """Random histories of `no-data` against the reference: what went bad after the last
    acknowledgement is sounding."""

    def __init__(self) -> None:
        super().__init__()
        self.board = Board()
        self.model = Reference()
        self.t_s = 0.0

    @rule(holds=st.sampled_from([True, False, None]))
    def judge(self, holds: bool | None) -> None:
        self.t_s += 1.0
        tell(self.board, self.t_s, NO_DATA, holds)
        if holds is True and not self.model.is_on:
            self.model.is_on, self.model.is_heard = True, False
            self.model.raises += 1
        elif holds is False:
            self.model.is_on = False

    @rule(back=st.integers(0, 2))
    def acknowledge(self, back: int) -> None:
        number = self.model.raises - back
        self.board.acknowledge(NO_DATA, number, "", 0, 0)
        if back == 0:
            self.model.is_heard = True

    @invariant()
    def what_was_not_heard_sounds(self) -> None:
        state = self.board.state(NO_DATA)
        sounding = state in (State.UNACKNOWLEDGED, State.RETURNED_UNACKNOWLEDGED)
        assert sounding == (not self.model.is_heard)
        assert (state in (State.UNACKNOWLEDGED, State.ACKNOWLEDGED)) == self.model.is_on


LatchedAlarm.TestCase.settings = settings(max_examples=60, stateful_step_count=25)
TestLatchedAlarm = LatchedAlarm.TestCase
