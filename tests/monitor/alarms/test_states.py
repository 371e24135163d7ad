"""The alarm table against the state diagram of ANSI/ISA-18.2-2016 (transitions as they stand in
public state-machine descriptions of it; the standard's own figure was not at hand)."""

import pytest

from monitor.alarms.alarm import Change, State
from monitor.alarms.states import TABLE, Signal, next_state

N, U = State.NORMAL, State.UNACKNOWLEDGED
A, R = State.ACKNOWLEDGED, State.RETURNED_UNACKNOWLEDGED
COMES, GOES, GOES_LATCHED = Signal.COMES, Signal.GOES, Signal.GOES_LATCHED
ACK = Signal.ACKNOWLEDGE

RULES = [
    # rule, state, signal, state after, change
    (1, N, COMES, U, Change.RAISED),
    (1, R, COMES, U, Change.RAISED),
    (3, U, ACK, A, Change.ACKNOWLEDGED),
    (4, A, GOES, N, Change.RETURNED),
    (4, A, GOES_LATCHED, N, Change.RETURNED),
    (5, U, GOES_LATCHED, R, Change.RETURNED),
    (6, U, GOES, N, Change.RETURNED),
    (7, R, ACK, N, Change.ACKNOWLEDGED),
]


@pytest.mark.parametrize(("rule", "state", "signal", "after", "change"), RULES)
def test_the_table_follows_the_rule(
    rule: int, state: State, signal: Signal, after: State, change: Change
) -> None:
    assert next_state(state, signal) == (after, change), f"rule {rule}"


def test_what_no_rule_lists_changes_nothing() -> None:
    listed = {(state, signal) for _, state, signal, _, _ in RULES}
    assert listed == set(TABLE)
    for state in State:
        for signal in Signal:
            if (state, signal) not in listed:
                assert next_state(state, signal) == (state, None)
