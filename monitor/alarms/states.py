"""Where an alarm goes from where it stands: one table, after ANSI/ISA-18.2's state diagram.

1. A condition that comes raises the alarm, from normal or from returned-unacknowledged.
2. A raise is a new occurrence; what was acknowledged before does not carry over to it.
3. An acknowledgement of a standing alarm keeps it standing, without sound.
4. A standing acknowledged alarm whose condition goes is normal again.
5. A latched alarm whose condition goes unacknowledged stays, as returned-unacknowledged.
6. An alarm that is not latched is normal again as soon as its condition goes.
7. An acknowledgement of a returned alarm makes it normal.
8. What the table does not list changes nothing.
"""

from enum import StrEnum

from monitor.alarms.alarm import Change, State


class Signal(StrEnum):
    """What can happen to one alarm."""

    COMES = "the condition comes"
    GOES = "the condition goes"
    GOES_LATCHED = "the condition of a latched alarm goes"
    ACKNOWLEDGE = "the operator acknowledges"


TABLE: dict[tuple[State, Signal], tuple[State, Change]] = {
    (State.NORMAL, Signal.COMES): (State.UNACKNOWLEDGED, Change.RAISED),
    (State.RETURNED_UNACKNOWLEDGED, Signal.COMES): (State.UNACKNOWLEDGED, Change.RAISED),
    (State.UNACKNOWLEDGED, Signal.ACKNOWLEDGE): (State.ACKNOWLEDGED, Change.ACKNOWLEDGED),
    (State.UNACKNOWLEDGED, Signal.GOES): (State.NORMAL, Change.RETURNED),
    (State.UNACKNOWLEDGED, Signal.GOES_LATCHED): (
        State.RETURNED_UNACKNOWLEDGED,
        Change.RETURNED,
    ),
    (State.ACKNOWLEDGED, Signal.GOES): (State.NORMAL, Change.RETURNED),
    (State.ACKNOWLEDGED, Signal.GOES_LATCHED): (State.NORMAL, Change.RETURNED),
    (State.RETURNED_UNACKNOWLEDGED, Signal.ACKNOWLEDGE): (State.NORMAL, Change.ACKNOWLEDGED),
}


def next_state(state: State, signal: Signal) -> tuple[State, Change | None]:
    """The state after a signal, and the change to tell; None where nothing changed.

    >>> next_state(State.NORMAL, Signal.COMES)[0].value
    'unacknowledged'
    >>> next_state(State.ACKNOWLEDGED, Signal.ACKNOWLEDGE)
    (<State.ACKNOWLEDGED: 'acknowledged'>, None)
    """
    return TABLE.get((state, signal), (state, None))
