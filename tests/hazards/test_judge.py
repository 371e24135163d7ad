"""The judge itself: what it must find missing, late, too mild or forbidden."""

import pytest

from benchmarks.hazards.draw import draw
from benchmarks.hazards.judge import judge
from benchmarks.hazards.played import Played, Reading, Settings
from benchmarks.hazards.row import Must, MustNot, Row
from monitor.export.event_lines import Line

EVENT_S = 100.0


def played() -> Played:
    """A scene with its event after 100 s."""
    sizes = draw("judge", 0)
    sizes.rate_hz = 5.0
    scene = Played(sizes, Settings(10.0), [Reading(200.0, 8.0, 4.0)])
    scene.marks["event"] = EVENT_S
    return scene


def alarm(t_s: float, name: str, **other: str) -> Line:
    """A line as `replay --json` prints it."""
    line = {"kind": "alarm", "t_s": t_s, "alarm": name, "change": "raised", "priority": "high"}
    return {**line, "message": "", "action": "Output OFF. Look.", **other}


def faults(row: Row, *lines: Line) -> list[str]:
    """What the judge finds."""
    return judge(row, played(), lines).faults


MUST = Must(("short",), 2.0, within_samples=1.0, priority="high", action="Output OFF.")
ROW = Row("X", "", lambda _: played(), (MUST,), (MustNot(("tripped",), at_most=1),))


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        (alarm(102.1, "short"), ""),
        (alarm(102.3, "short"), "late by"),
        (alarm(101.0, "short", priority="medium"), "priority medium"),
        (alarm(101.0, "short", priority="critical"), ""),
        (alarm(101.0, "short", action="Look. Output OFF."), "action begins"),
        (alarm(101.0, "short", change="returned"), "not said"),
        (alarm(101.0, "other"), "not said"),
        (alarm(90.0, "short"), "not said"),
    ],
)
def test_what_must_be_said_is_asked_for_in_full(line: Line, fault: str) -> None:
    found = faults(ROW, line)
    assert any(one.startswith(fault) for one in found) if fault else not found


def test_what_comes_before_the_event_is_false() -> None:
    found = faults(ROW, alarm(50.0, "other"), alarm(101.0, "short"))
    assert [one.partition(":")[0] for one in found] == ["before the event"]


def test_more_than_is_allowed_is_forbidden() -> None:
    raised = [alarm(101.0, "short"), alarm(102.0, "tripped"), alarm(103.0, "tripped")]
    assert not faults(ROW, *raised[:2])
    assert len(faults(ROW, *raised)) == 1


def test_words_are_looked_for_in_message_and_action_of_whatever_is_said() -> None:
    row = Row("X", "", lambda _: played(), (), (MustNot(says="slow rise"),))
    explanation: Line = {"kind": "explanation", "t_s": 101.0, "cause": "x", "message": "Slow rise"}
    state: Line = {
        "kind": "state",
        "t_s": 101.0,
        "state": "OFF",
        "message": "",
        "action": "slow rise",
    }
    assert len(faults(row, explanation, state)) == 2
    assert not faults(row, {**state, "t_s": 99.0})


def test_an_alarm_that_must_be_gone_may_not_stand() -> None:
    row = Row("X", "", lambda _: played(), (Must(("trip-expected",), 20.0, "gone"),))
    raised = alarm(101.0, "trip-expected")
    assert faults(row, raised)
    assert not faults(row, raised, alarm(110.0, "trip-expected", change="returned"))
    assert not faults(row)
