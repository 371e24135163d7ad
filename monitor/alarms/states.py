"""Where an alarm goes from where it stands: one table, after ANSI/ISA-18.2's state diagram.

1. A condition that comes raises the alarm, from normal or from returned-unacknowledged.
2. Every way into unacknowledged is a new occurrence; what was acknowledged before does not carry
   over to it.
3. An acknowledgement of a standing alarm keeps it standing, without sound.
4. A standing acknowledged alarm whose condition goes is normal again.
5. A latched alarm whose condition goes unacknowledged stays, as returned-unacknowledged.
6. An alarm that is not latched is normal again as soon as its condition goes.
7. An acknowledgement of a returned alarm makes it normal.
8. What the table does not list changes nothing: so a condition that comes or goes on the shelf
   or out of service is only remembered.
9. Shelving takes an alarm off the sound from wherever it stands on the left of the diagram.
10. From the shelf it comes back normal, or unacknowledged where its condition holds by then.
11. A condition that comes while its cause stands as an alarm of its own is suppressed by design.
12. A suppressed alarm is normal when its condition goes, and raised when only its cause does.
13. Out of service an alarm is judged no more; it can be taken there from anywhere.
14. Back in service it is normal, or raised where its condition holds by then.
"""

from enum import StrEnum

from monitor.model.alarm import Change, State


class Signal(StrEnum):
    """What can happen to one alarm."""

    COMES = "the condition comes"
    GOES = "the condition goes"
    GOES_LATCHED = "the condition of a latched alarm goes"
    ACKNOWLEDGE = "the operator acknowledges"
    SHELVE = "the operator shelves it"
    UNSHELVE = "it comes off the shelf, its condition gone"
    UNSHELVE_ON = "it comes off the shelf, its condition there"
    SUPPRESS = "the condition comes while its cause stands as an alarm"
    UNSUPPRESS_ON = "the cause goes, the condition stays"
    TAKE_OUT = "it is taken out of service"
    PUT_BACK = "it is put back into service, its condition gone"
    PUT_BACK_ON = "it is put back into service, its condition there"


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
    (State.NORMAL, Signal.SHELVE): (State.SHELVED, Change.SHELVED),
    (State.UNACKNOWLEDGED, Signal.SHELVE): (State.SHELVED, Change.SHELVED),
    (State.ACKNOWLEDGED, Signal.SHELVE): (State.SHELVED, Change.SHELVED),
    (State.RETURNED_UNACKNOWLEDGED, Signal.SHELVE): (State.SHELVED, Change.SHELVED),
    (State.SHELVED, Signal.UNSHELVE): (State.NORMAL, Change.UNSHELVED),
    (State.SHELVED, Signal.UNSHELVE_ON): (State.UNACKNOWLEDGED, Change.UNSHELVED),
    (State.NORMAL, Signal.SUPPRESS): (State.SUPPRESSED, Change.SUPPRESSED),
    (State.SUPPRESSED, Signal.GOES): (State.NORMAL, Change.RETURNED),
    (State.SUPPRESSED, Signal.GOES_LATCHED): (State.NORMAL, Change.RETURNED),
    (State.SUPPRESSED, Signal.UNSUPPRESS_ON): (State.UNACKNOWLEDGED, Change.RAISED),
    (State.NORMAL, Signal.TAKE_OUT): (State.OUT_OF_SERVICE, Change.TAKEN_OUT),
    (State.UNACKNOWLEDGED, Signal.TAKE_OUT): (State.OUT_OF_SERVICE, Change.TAKEN_OUT),
    (State.ACKNOWLEDGED, Signal.TAKE_OUT): (State.OUT_OF_SERVICE, Change.TAKEN_OUT),
    (State.RETURNED_UNACKNOWLEDGED, Signal.TAKE_OUT): (State.OUT_OF_SERVICE, Change.TAKEN_OUT),
    (State.SHELVED, Signal.TAKE_OUT): (State.OUT_OF_SERVICE, Change.TAKEN_OUT),
    (State.SUPPRESSED, Signal.TAKE_OUT): (State.OUT_OF_SERVICE, Change.TAKEN_OUT),
    (State.OUT_OF_SERVICE, Signal.PUT_BACK): (State.NORMAL, Change.PUT_BACK),
    (State.OUT_OF_SERVICE, Signal.PUT_BACK_ON): (State.UNACKNOWLEDGED, Change.RAISED),
}


def next_state(state: State, signal: Signal) -> tuple[State, Change | None]:
    """The state after a signal, and the change to tell; None where nothing changed.

    >>> next_state(State.NORMAL, Signal.COMES)[0].value
    'unacknowledged'
    >>> next_state(State.ACKNOWLEDGED, Signal.ACKNOWLEDGE)
    (<State.ACKNOWLEDGED: 'acknowledged'>, None)
    """
    return TABLE.get((state, signal), (state, None))
