"""The alarm table against the state diagram of ANSI/ISA-18.2-2016 (transitions as they stand in
public state-machine descriptions of it; the standard's own figure was not at hand)."""

import pytest

from monitor.alarms.states import TABLE, Signal, next_state
from monitor.model.alarm import Change, State

N, U = State.NORMAL, State.UNACKNOWLEDGED
A, R = State.ACKNOWLEDGED, State.RETURNED_UNACKNOWLEDGED
SHELVED, SUPPRESSED, OUT = State.SHELVED, State.SUPPRESSED, State.OUT_OF_SERVICE
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
    *((9, state, Signal.SHELVE, SHELVED, Change.SHELVED) for state in (N, U, A, R)),
    (10, SHELVED, Signal.UNSHELVE, N, Change.UNSHELVED),
    (10, SHELVED, Signal.UNSHELVE_ON, U, Change.UNSHELVED),
    (11, N, Signal.SUPPRESS, SUPPRESSED, Change.SUPPRESSED),
    (12, SUPPRESSED, GOES, N, Change.RETURNED),
    (12, SUPPRESSED, GOES_LATCHED, N, Change.RETURNED),
    (12, SUPPRESSED, Signal.UNSUPPRESS_ON, U, Change.RAISED),
    *(
        (13, state, Signal.TAKE_OUT, OUT, Change.TAKEN_OUT)
        for state in (N, U, A, R, SHELVED, SUPPRESSED)
    ),
    (14, OUT, Signal.PUT_BACK, N, Change.PUT_BACK),
    (14, OUT, Signal.PUT_BACK_ON, U, Change.RAISED),
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


def test_no_state_is_a_dead_end() -> None:
    # ISA-18.2's diagram leads from every state back to normal.
    reaches_normal = {N}
    for _ in State:
        reaches_normal |= {s for (s, _), (after, _) in TABLE.items() if after in reaches_normal}
    assert reaches_normal == set(State)
