"""The names, priorities, states and events of alarms; words of ANSI/ISA-18.2 and IEC 62682."""

from dataclasses import dataclass
from enum import StrEnum


class AlarmName(StrEnum):
    """The name of an alarm: the same in code, screen, store and docs."""

    TRIP_EXPECTED = "trip-expected"
    TRIPPED = "tripped"
    SHORT = "short"
    CURRENT_LIMITED = "current-limited"
    OVERHEATING = "overheating"
    DENSITY_HIGH = "density-high"
    CONNECTION_RESISTANCE = "connection-resistance"
    OUTSIDE_VOLTAGE_WINDOW = "outside-voltage-window"
    AMPS_JUMPED = "amps-jumped"
    LIMIT_WRONG = "limit-wrong"
    NO_CURRENT = "no-current"
    REVERSED = "reversed"
    VOLTS_HIGH = "volts-high"
    MARGIN_SMALL = "margin-small"
    TIME_OVER = "time-over"
    STILL_ON = "still-on"
    READINGS_FROZEN = "readings-frozen"
    NO_DATA = "no-data"
    WRONG_SUPPLY = "wrong-supply"
    HOST_PAUSED = "host-paused"
    WATCH_FAILED = "watch-failed"
    NOT_RECORDING = "not-recording"
    PART_FAILED = "part-failed"
    NOTICE_FAILED = "notice-failed"
    DISK_LOW = "disk-low"
    FORWARD_BEHIND = "forward-behind"


class Priority(StrEnum):
    """How soon somebody must act; critical first."""

    CRITICAL = "critical"
    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


RANK = {priority: rank for rank, priority in enumerate(Priority)}
"""0 for critical, 3 for low."""


class State(StrEnum):
    """Where one alarm stands (ISA-18.2 state diagram)."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED_UNACKNOWLEDGED = "returned-unacknowledged"
    SHELVED = "shelved"
    SUPPRESSED = "suppressed-by-design"
    OUT_OF_SERVICE = "out-of-service"


class Change(StrEnum):
    """What happened to an alarm at one sample."""

    RAISED = "raised"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned"
    SHELVED = "shelved"
    UNSHELVED = "unshelved"
    SUPPRESSED = "suppressed"
    TAKEN_OUT = "taken-out-of-service"
    PUT_BACK = "put-back-into-service"


SHELF_NS = 600 * 1_000_000_000
"""How long an alarm stays on the shelf: ten minutes, and never past the run's end."""


@dataclass(frozen=True, slots=True)
class AlarmKind:
    """One row of the catalogue (`monitor/alarms/catalogue.py`); its texts are in `monitor/text/`.

    Parameters
    ----------
    latched
        True where the alarm stays until acknowledged though the condition has gone.
    suppressed_by
        Alarms whose standing condition explains this one: one cause, one alarm.
    blinds
        True where nothing is known of the supply while the alarm stands.
    needs_readings
        True where only a reading of the supply can tell whether the alarm stands.
    """

    name: AlarmName
    priority: Priority
    on_delay_s: float = 0.0
    off_delay_s: float = 0.0
    latched: bool = False
    suppressed_by: tuple[AlarmName, ...] = ()
    blinds: bool = False
    needs_readings: bool = True

    @property
    def may_be_shelved(self) -> bool:
        """Critical alarms can only be acknowledged, which silences what stands and no more."""
        return self.priority is not Priority.CRITICAL


@dataclass(frozen=True, slots=True)
class AlarmEvent:
    """One change of one occurrence of one alarm.

    Parameters
    ----------
    alarm
        An `AlarmName`; a store of another version may hold a name that nobody knows.
    occurrence
        Counts the raises of this alarm within the run, from 1; an acknowledgement hits one
        occurrence and never a later one.
    change, state
        What happened, and the state after it.
    seq, t_ns
        Of the sample that caused it.
    message
        One plain sentence with numbers.
    trip_in_s, trip_in_low_s, trip_in_high_s
        The forecast as it stood, for `trip-expected`; else None.
    by
        Who acknowledged or shelved; None otherwise.
    action
        What to do about this very occurrence; "" where that is the catalogue's action.
    """

    alarm: str
    occurrence: int
    change: Change
    state: State
    priority: Priority
    seq: int
    t_ns: int
    message: str
    trip_in_s: float | None = None
    trip_in_low_s: float | None = None
    trip_in_high_s: float | None = None
    by: str | None = None
    action: str = ""

    @property
    def t_s(self) -> float:
        """Seconds since the run began."""
        return self.t_ns / 1e9

    @property
    def shelved_until_ns(self) -> int | None:
        """The run's `t_ns` at which the alarm leaves the shelf; None where it is not shelved."""
        return self.t_ns + SHELF_NS if self.state is State.SHELVED else None
