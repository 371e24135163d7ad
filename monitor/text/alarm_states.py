"""One alarm and what else stands in, how it stands in words out: unknown while nothing is known."""

from monitor.alarms.board import shelved_until_ns
from monitor.alarms.catalogue import BY_NAME, KINDS
from monitor.model.alarm import AlarmEvent, State
from monitor.text.numbers import clock

STATES = {
    State.NORMAL: "over",
    State.UNACKNOWLEDGED: "not acknowledged",
    State.ACKNOWLEDGED: "acknowledged",
    State.RETURNED_UNACKNOWLEDGED: "over, not acknowledged",
    State.SHELVED: "shelved",
    State.SUPPRESSED: "suppressed by design",
    State.OUT_OF_SERVICE: "out of service",
}
BLIND = frozenset(kind.name for kind in KINDS if kind.blinds)
HOLDING = (State.UNACKNOWLEDGED, State.ACKNOWLEDGED)


def is_unknown(event: AlarmEvent, standing: tuple[AlarmEvent, ...]) -> bool:
    """Whether nobody can say at present if an alarm's condition holds.

    Parameters
    ----------
    standing
        The latest event of every alarm that is not normal.
    """
    kind = BY_NAME.get(event.alarm)
    if kind is not None and not kind.needs_readings:
        return False
    blind = [one for one in standing if one.state in HOLDING and one.alarm in BLIND]
    return bool(blind)


def state_words(event: AlarmEvent, standing: tuple[AlarmEvent, ...], t_s: float | None) -> str:
    """How an alarm stands, such as "not acknowledged" or "shelved, back in 9:58".

    Parameters
    ----------
    t_s
        The run's time now, seconds, for the countdown; None where it is not known.
    """
    until_ns = shelved_until_ns(event)
    words = STATES[event.state]
    if until_ns is not None and t_s is not None:
        words = f"{words}, back in {clock(max(until_ns / 1e9 - t_s, 0.0))}"
    return f"UNKNOWN now, was {words}" if is_unknown(event, standing) else words
