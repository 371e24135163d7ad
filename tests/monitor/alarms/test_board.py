"""Raise, acknowledge and return as an operator meets them."""

from dataclasses import dataclass

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from monitor.alarms.board import Board
from monitor.alarms.catalogue import BY_NAME, KINDS
from monitor.model.alarm import AlarmEvent, AlarmKind, AlarmName, Change, Priority, State
from monitor.model.estimate import Forecast, NoForecast
from monitor.model.finding import Finding
from monitor.model.sample import Sample
from monitor.text.alarms import ALARM_TEXTS

DEEDS = {
    *(
        "add",
        "ask",
        "call",
        "change",
        "check",
        "clean",
        "close",
        "connect",
        "correct",
        "cool",
        "end",
    ),
    *("flush", "free", "go", "keep", "lift", "look", "lower", "make", "measure", "move", "open"),
    *(
        "output",
        "pause",
        "plug",
        "put",
        "raise",
        "read",
        "rinse",
        "see",
        "set",
        "start",
        "stay",
        "stop",
    ),
    *("switch", "test", "tighten", "turn", "wait", "watch"),
}
"""What an operator can be told to do: the word that an action begins with ("Output off")."""

SOON = Forecast(90.0, 60.0, 150.0, 0.7)


def row(seq: int, t_s: float) -> Sample:
    return Sample(seq, round(t_s * 1e9), 0, 1000, 9.0, 8.0)


def tell(
    board: Board, t_s: float, alarm: AlarmName, holds: bool | None
) -> list[tuple[str, Change]]:
    finding = Finding(alarm, holds, "words")
    events = board.update(row(round(t_s * 5), t_s), (finding,), SOON)
    return [(event.alarm, event.change) for event in events]


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_every_alarm_says_what_it_means_and_what_to_do(kind: AlarmKind) -> None:
    # ANSI/ISA-18.2: an alarm is what requires a timely response of the operator. So it has an
    # action, its first word is what to do, and no other alarm means the same.
    assert set(ALARM_TEXTS) == set(BY_NAME) == set(AlarmName)
    texts = ALARM_TEXTS[kind.name]
    for text in texts:
        sentences = text.removesuffix(".").split(". ")
        assert text.endswith(".")
        assert all(sentence[0].isupper() for sentence in sentences), text
        assert all(len(sentence.split()) >= 2 for sentence in sentences), text
    assert texts.action.split()[0].strip(",;.").lower() in DEEDS
    assert [one.meaning for one in ALARM_TEXTS.values()].count(texts.meaning) == 1


def test_a_condition_shorter_than_the_on_delay_raises_nothing() -> None:
    board = Board()
    assert tell(board, 0.0, AlarmName.TRIP_EXPECTED, True) == []
    assert tell(board, 1.0, AlarmName.TRIP_EXPECTED, False) == []
    assert tell(board, 2.5, AlarmName.TRIP_EXPECTED, True) == []


def test_a_condition_that_lasts_raises_once_and_carries_the_forecast() -> None:
    board = Board()
    tell(board, 0.0, AlarmName.TRIP_EXPECTED, True)
    events = board.update(row(10, 2.0), (Finding(AlarmName.TRIP_EXPECTED, True, "soon"),), SOON)
    assert [event.change for event in events] == [Change.RAISED]
    assert (events[0].trip_in_s, events[0].trip_in_low_s, events[0].trip_in_high_s) == (
        90.0,
        60.0,
        150.0,
    )
    assert tell(board, 3.0, AlarmName.TRIP_EXPECTED, True) == []


def test_not_knowing_neither_raises_nor_returns() -> None:
    board = Board()
    tell(board, 0.0, AlarmName.TRIPPED, True)
    assert board.state(AlarmName.TRIPPED) is State.UNACKNOWLEDGED
    assert tell(board, 100.0, AlarmName.TRIPPED, None) == []
    assert board.state(AlarmName.TRIPPED) is State.UNACKNOWLEDGED


def test_an_acknowledgement_of_an_earlier_occurrence_hits_nothing() -> None:
    board = Board()
    tell(board, 0.0, AlarmName.NO_DATA, True)
    tell(board, 1.0, AlarmName.NO_DATA, False)
    tell(board, 2.0, AlarmName.NO_DATA, True)
    assert board.acknowledge(AlarmName.NO_DATA, 1, "", 0, 0) is None
    assert board.state(AlarmName.NO_DATA) is State.UNACKNOWLEDGED
    event = board.acknowledge(AlarmName.NO_DATA, 2, "Ada", 11, 5)
    assert event is not None
    assert (event.change, event.by) == (Change.ACKNOWLEDGED, "Ada")


def test_a_milder_occurrence_keeps_its_priority_to_its_end_and_over_a_restart() -> None:
    first = Board()
    mild = Finding(AlarmName.TRIPPED, True, "cut out or switched off", priority=Priority.HIGH)
    events = first.update(row(0, 0.0), (mild,), Forecast())
    second = Board()
    second.restore(events)
    for board in (first, second):
        (gone,) = board.update(row(5, 1.0), (Finding(AlarmName.TRIPPED, False, "on"),), Forecast())
        assert (events[0].priority, gone.priority) == (Priority.HIGH, Priority.HIGH)
        (again,) = board.update(
            row(9, 2.0), (Finding(AlarmName.TRIPPED, True, "cut out"),), Forecast()
        )
        assert again.priority is Priority.CRITICAL


def test_a_settled_matter_does_not_wait_for_the_off_delay() -> None:
    board = Board()
    for t_s in (0.0, 2.0):
        tell(board, t_s, AlarmName.TRIP_EXPECTED, True)
    gone = Finding(AlarmName.TRIP_EXPECTED, False, "the supply has cut out", at_once=True)
    events = board.update(row(11, 2.2), (gone,), Forecast(why=NoForecast.OUTPUT_OFF))
    assert [event.change for event in events] == [Change.RETURNED]


def test_a_restored_board_goes_on_where_the_events_ended() -> None:
    first = Board()
    events = first.update(row(0, 0.0), (Finding(AlarmName.NO_DATA, True, "silence"),), SOON)
    second = Board()
    second.restore(events)
    assert second.state(AlarmName.NO_DATA) is State.UNACKNOWLEDGED
    assert second.update(row(1, 1.0), (Finding(AlarmName.NO_DATA, True, "silence"),), SOON) == []
    assert second.acknowledge(AlarmName.NO_DATA, events[0].occurrence, "", 1, 1) is not None


def shelved(
    board: Board, t_s: float, alarm: AlarmName = AlarmName.TRIP_EXPECTED
) -> AlarmEvent | None:
    return board.shelve(alarm, 1, "Ada", round(t_s * 5), round(t_s * 1e9))


def expecting() -> Board:
    board = Board()
    for t_s in (0.0, 2.0):
        tell(board, t_s, AlarmName.TRIP_EXPECTED, True)
    return board


def test_a_shelved_alarm_that_still_holds_sounds_again_after_ten_minutes() -> None:
    board = expecting()
    event = shelved(board, 3.0)
    assert event is not None
    assert event.shelved_until_ns == 603 * 10**9
    assert tell(board, 602.9, AlarmName.TRIP_EXPECTED, True) == []
    assert board.state(AlarmName.TRIP_EXPECTED) is State.SHELVED
    assert tell(board, 603.0, AlarmName.TRIP_EXPECTED, None) == [
        (AlarmName.TRIP_EXPECTED, Change.UNSHELVED)
    ]
    assert board.state(AlarmName.TRIP_EXPECTED) is State.UNACKNOWLEDGED
    assert board.acknowledge(AlarmName.TRIP_EXPECTED, 1, "", 0, 0) is None, "it is a new occurrence"


def test_a_shelved_alarm_whose_condition_went_comes_back_normal() -> None:
    board = expecting()
    shelved(board, 3.0)
    for t_s in (4.0, 15.0):
        assert tell(board, t_s, AlarmName.TRIP_EXPECTED, False) == []
    assert tell(board, 700.0, AlarmName.TRIP_EXPECTED, False) == [
        (AlarmName.TRIP_EXPECTED, Change.UNSHELVED)
    ]
    assert board.state(AlarmName.TRIP_EXPECTED) is State.NORMAL


def test_a_condition_that_comes_on_the_shelf_sounds_when_it_comes_off() -> None:
    board = expecting()
    shelved(board, 3.0)
    for t_s in (4.0, 15.0):
        tell(board, t_s, AlarmName.TRIP_EXPECTED, False)
    for t_s in (20.0, 23.0):
        assert tell(board, t_s, AlarmName.TRIP_EXPECTED, True) == []
    event = board.unshelve(AlarmName.TRIP_EXPECTED, "Ada", 0, 30 * 10**9)
    assert event is not None
    assert (event.state, event.by) == (State.UNACKNOWLEDGED, "Ada")


def test_a_critical_alarm_cannot_be_shelved() -> None:
    board = Board()
    tell(board, 0.0, AlarmName.NO_DATA, True)
    assert shelved(board, 1.0, AlarmName.NO_DATA) is None
    assert board.state(AlarmName.NO_DATA) is State.UNACKNOWLEDGED


def test_a_restart_makes_a_shelf_no_longer() -> None:
    events = []
    first = Board()
    for t_s in (0.0, 2.0):
        finding = Finding(AlarmName.TRIP_EXPECTED, True, "soon")
        events += first.update(row(round(5 * t_s), t_s), (finding,), SOON)
    event = shelved(first, 3.0)
    assert event is not None
    second = Board()
    second.restore([*events, event])
    assert second.state(AlarmName.TRIP_EXPECTED) is State.SHELVED
    assert tell(second, 603.0, AlarmName.TRIP_EXPECTED, None) == [
        (AlarmName.TRIP_EXPECTED, Change.UNSHELVED)
    ]
    assert second.state(AlarmName.TRIP_EXPECTED) is State.UNACKNOWLEDGED


def both(board: Board, t_s: float, wrong: bool | None, silent: bool | None) -> list[str]:
    findings = (
        Finding(AlarmName.WRONG_SUPPLY, wrong, "another"),
        Finding(AlarmName.NO_DATA, silent, "silence"),
    )
    events = board.update(row(round(5 * t_s), t_s), findings, SOON)
    return [f"{event.alarm} {event.change}" for event in events]


def test_one_cause_makes_one_alarm() -> None:
    board = Board()
    assert both(board, 0.0, True, None) == ["wrong-supply raised"]
    assert both(board, 5.0, True, True) == ["no-data suppressed"]
    assert board.state(AlarmName.NO_DATA) is State.SUPPRESSED
    assert both(board, 6.0, False, False) == ["wrong-supply returned", "no-data returned"]
    assert board.state(AlarmName.NO_DATA) is State.NORMAL


def test_what_outlives_its_cause_is_raised() -> None:
    board = Board()
    both(board, 0.0, True, None)
    both(board, 5.0, True, True)
    assert both(board, 6.0, False, True) == ["wrong-supply returned", "no-data raised"]


def test_an_alarm_that_sounds_already_is_not_hushed_by_a_cause_that_comes_later() -> None:
    board = Board()
    both(board, 0.0, None, True)
    both(board, 1.0, True, True)
    assert board.state(AlarmName.NO_DATA) is State.UNACKNOWLEDGED
    both(board, 2.0, True, False)
    assert board.state(AlarmName.NO_DATA) is State.RETURNED_UNACKNOWLEDGED
    assert both(board, 3.0, True, True) == ["no-data raised"]


@pytest.mark.parametrize("silenced", [State.SHELVED, State.OUT_OF_SERVICE])
def test_a_cause_that_is_silenced_hides_no_other_alarm(silenced: State) -> None:
    board = Board()

    def findings(silent: bool) -> tuple[Finding, ...]:
        return (
            Finding(AlarmName.HOST_PAUSED, True, "paused"),
            Finding(AlarmName.NO_DATA, silent, "silence"),
        )

    board.update(row(0, 0.0), findings(False), SOON)
    if silenced is State.SHELVED:
        assert board.shelve(AlarmName.HOST_PAUSED, 1, "Ada", 1, 10**9) is not None
    else:
        assert board.keep_out_of_service({AlarmName.HOST_PAUSED: "a laptop"}, 1, 10**9)
    events = board.update(row(10, 2.0), findings(True), SOON)
    assert [(event.alarm, event.change) for event in events] == [(AlarmName.NO_DATA, Change.RAISED)]


def test_what_the_settings_name_is_out_of_service_and_nothing_else_and_a_restart_knows() -> None:
    board = Board()
    events = board.keep_out_of_service({AlarmName.DENSITY_HIGH: "no area known"}, 0, 0)
    assert [(event.alarm, event.change) for event in events] == [
        (AlarmName.DENSITY_HIGH, Change.TAKEN_OUT)
    ]
    assert events[0].message == "out of service: no area known"
    assert board.keep_out_of_service({AlarmName.DENSITY_HIGH: "no area known"}, 0, 0) == []
    for t_s in (1.0, 10.0, 100.0):
        assert tell(board, t_s, AlarmName.DENSITY_HIGH, True) == []
    again = Board()
    again.restore(events)
    assert again.state(AlarmName.DENSITY_HIGH) is State.OUT_OF_SERVICE
    (back,) = again.keep_out_of_service({}, 600, 120 * 10**9)
    assert (back.alarm, back.change) == (AlarmName.DENSITY_HIGH, Change.PUT_BACK)


def test_out_of_service_is_told_and_ends_with_a_raise_where_the_condition_holds() -> None:
    board = Board()
    out = board.take_out_of_service(AlarmName.TRIPPED, "the supply has no output to watch", 0, 0)
    assert out is not None
    assert "has no output" in out.message
    assert tell(board, 1.0, AlarmName.TRIPPED, True) == []
    back = board.put_back_into_service(AlarmName.TRIPPED, 10, 2 * 10**9)
    assert back is not None
    assert (back.change, back.state) == (Change.RAISED, State.UNACKNOWLEDGED)


@dataclass
class Reference:
    """The least that must be true of one alarm without delays, kept in plain words."""

    is_on: bool = False
    is_heard: bool = True
    raises: int = 0
    shelved_until_s: float | None = None
    is_out: bool = False

    @property
    def is_silenced(self) -> bool:
        return self.is_out or self.shelved_until_s is not None


class LatchedAlarm(RuleBasedStateMachine):
    """Random histories of `no-data` against the reference: what went bad after the last
    acknowledgement is sounding."""

    alarm = AlarmName.NO_DATA
    latched = True

    def __init__(self) -> None:
        super().__init__()
        self.board = Board()
        self.model = Reference()
        self.t_s = 0.0
        self.events: list[AlarmEvent] = []

    @rule(holds=st.sampled_from([True, False, None]), step_s=st.sampled_from([1.0, 90.0]))
    def judge(self, holds: bool | None, step_s: float) -> None:
        self.t_s += step_s
        finding = Finding(self.alarm, holds, "words")
        self.events += self.board.update(row(round(self.t_s), self.t_s), (finding,), SOON)
        model = self.model
        if model.shelved_until_s is not None and self.t_s >= model.shelved_until_s:
            model.shelved_until_s = None
            if model.is_on:
                model.is_heard = False
                model.raises += 1
        if holds is True and not model.is_on:
            model.is_on = True
            if not model.is_silenced:
                model.is_heard = False
                model.raises += 1
        elif holds is False:
            model.is_on = False
            model.is_heard = model.is_heard or not self.latched

    @rule(back=st.integers(0, 2))
    def acknowledge(self, back: int) -> None:
        number = self.model.raises - back
        self.note(self.board.acknowledge(self.alarm, number, "", 0, round(self.t_s * 1e9)))
        if back == 0 and not self.model.is_silenced:
            self.model.is_heard = True

    @rule(is_out=st.booleans())
    def set_in_the_settings(self, is_out: bool) -> None:
        """Out of service it is not heard; back in service only if its condition holds by then."""
        reasons: dict[str, str] = {self.alarm: "a reason"} if is_out else {}
        events = self.board.keep_out_of_service(reasons, round(self.t_s), round(self.t_s * 1e9))
        self.events += events
        model = self.model
        assert len(events) == (is_out != model.is_out)
        if is_out:
            model.is_heard, model.shelved_until_s = True, None
        elif model.is_out and model.is_on:
            model.is_heard = False
            model.raises += 1
        model.is_out = is_out

    @rule(back=st.integers(0, 1))
    def shelve(self, back: int) -> None:
        number = self.model.raises - back
        event = self.board.shelve(self.alarm, number, "", 0, round(self.t_s * 1e9))
        self.note(event)
        may_be = back == 0 and not self.model.is_silenced
        assert (event is not None) == (may_be and BY_NAME[self.alarm].may_be_shelved)
        if event is not None:
            self.model.shelved_until_s = self.t_s + 600.0
            self.model.is_heard = True

    @rule()
    def start_again(self) -> None:
        """A recorder that is killed and started again changes nothing, but for what came or went
        on the shelf or out of service, which the next reading tells again."""
        if not self.model.is_silenced:
            self.board = Board()
            self.board.restore(self.events)

    def note(self, event: AlarmEvent | None) -> None:
        if event is not None:
            self.events.append(event)

    @invariant()
    def what_was_not_heard_sounds(self) -> None:
        state = self.board.state(self.alarm)
        sounding = state in (State.UNACKNOWLEDGED, State.RETURNED_UNACKNOWLEDGED)
        assert sounding == (not self.model.is_heard)
        assert self.board.is_on(self.alarm) == self.model.is_on
        assert (state is State.SHELVED) == (self.model.shelved_until_s is not None)
        assert (state is State.OUT_OF_SERVICE) == self.model.is_out


class PlainAlarm(LatchedAlarm):
    """The same for an alarm that is not latched, and that can be shelved."""

    alarm = AlarmName.NOT_RECORDING
    latched = False


for machine in (LatchedAlarm, PlainAlarm):
    machine.TestCase.settings = settings(max_examples=60, stateful_step_count=25)
TestLatchedAlarm = LatchedAlarm.TestCase
TestPlainAlarm = PlainAlarm.TestCase
