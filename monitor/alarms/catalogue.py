"""Every alarm that the recorder can raise: its priority, its delays and what explains it.

What it means and what the operator should do stands in `monitor/text/alarms.py`. Colours and
sounds follow from the priority. The order is that in which alarms of one sample are told, causes
before consequences.
"""

from collections.abc import Iterable

from monitor.model.alarm import AlarmEvent, AlarmKind, AlarmName, Priority, State

KINDS: tuple[AlarmKind, ...] = (
    AlarmKind(
        AlarmName.WATCH_FAILED,
        Priority.CRITICAL,
        latched=True,
        blinds=True,
        needs_readings=False,
    ),
    AlarmKind(
        AlarmName.WRONG_SUPPLY,
        Priority.CRITICAL,
        latched=True,
        blinds=True,
        needs_readings=False,
    ),
    AlarmKind(
        AlarmName.HOST_PAUSED,
        Priority.MEDIUM,
        latched=True,
        blinds=True,
        needs_readings=False,
    ),
    AlarmKind(
        AlarmName.NO_DATA,
        Priority.CRITICAL,
        latched=True,
        suppressed_by=(AlarmName.WATCH_FAILED, AlarmName.WRONG_SUPPLY, AlarmName.HOST_PAUSED),
        blinds=True,
        needs_readings=False,
    ),
    AlarmKind(AlarmName.READINGS_FROZEN, Priority.MEDIUM, off_delay_s=2.0),
    AlarmKind(AlarmName.SHORT, Priority.CRITICAL, off_delay_s=1.0),
    AlarmKind(AlarmName.REVERSED, Priority.HIGH, off_delay_s=2.0),
    AlarmKind(
        AlarmName.AMPS_JUMPED,
        Priority.MEDIUM,
        off_delay_s=5.0,
        suppressed_by=(AlarmName.SHORT,),
    ),
    AlarmKind(AlarmName.TRIPPED, Priority.CRITICAL, latched=True),
    AlarmKind(
        AlarmName.LIMIT_WRONG,
        Priority.MEDIUM,
        off_delay_s=5.0,
        suppressed_by=(AlarmName.SHORT,),
    ),
    AlarmKind(
        AlarmName.CURRENT_LIMITED,
        Priority.MEDIUM,
        on_delay_s=0.5,
        off_delay_s=5.0,
        suppressed_by=(AlarmName.SHORT,),
    ),
    AlarmKind(
        AlarmName.TRIP_EXPECTED,
        Priority.HIGH,
        on_delay_s=2.0,
        off_delay_s=10.0,
        suppressed_by=(AlarmName.SHORT,),
    ),
    AlarmKind(
        AlarmName.MARGIN_SMALL,
        Priority.MEDIUM,
        off_delay_s=5.0,
        suppressed_by=(
            AlarmName.SHORT,
            AlarmName.LIMIT_WRONG,
            AlarmName.CURRENT_LIMITED,
            AlarmName.TRIP_EXPECTED,
        ),
    ),
    AlarmKind(
        AlarmName.OVERHEATING,
        Priority.HIGH,
        on_delay_s=2.0,
        off_delay_s=10.0,
        suppressed_by=(AlarmName.SHORT,),
    ),
    AlarmKind(
        AlarmName.DENSITY_HIGH,
        Priority.MEDIUM,
        on_delay_s=5.0,
        off_delay_s=5.0,
        suppressed_by=(AlarmName.SHORT,),
    ),
    AlarmKind(
        AlarmName.CONNECTION_RESISTANCE,
        Priority.MEDIUM,
        on_delay_s=3.0,
        off_delay_s=5.0,
        suppressed_by=(AlarmName.SHORT, AlarmName.TRIPPED, AlarmName.CURRENT_LIMITED),
    ),
    AlarmKind(
        AlarmName.NO_CURRENT,
        Priority.MEDIUM,
        off_delay_s=1.0,
        suppressed_by=(AlarmName.TRIPPED,),
    ),
    AlarmKind(
        AlarmName.VOLTS_HIGH,
        Priority.MEDIUM,
        on_delay_s=2.0,
        off_delay_s=15.0,
        suppressed_by=(AlarmName.TRIPPED,),
    ),
    AlarmKind(AlarmName.TIME_OVER, Priority.MEDIUM, off_delay_s=2.0),
    AlarmKind(AlarmName.STILL_ON, Priority.MEDIUM, off_delay_s=2.0),
    AlarmKind(
        AlarmName.OUTSIDE_VOLTAGE_WINDOW,
        Priority.LOW,
        on_delay_s=10.0,
        off_delay_s=15.0,
        suppressed_by=(AlarmName.SHORT, AlarmName.TRIPPED, AlarmName.CURRENT_LIMITED),
    ),
    AlarmKind(AlarmName.NOT_RECORDING, Priority.HIGH, needs_readings=False),
    AlarmKind(AlarmName.PART_FAILED, Priority.HIGH, needs_readings=False),
    AlarmKind(AlarmName.NOTICE_FAILED, Priority.MEDIUM, needs_readings=False),
    AlarmKind(
        AlarmName.DISK_LOW,
        Priority.MEDIUM,
        off_delay_s=10.0,
        suppressed_by=(AlarmName.NOT_RECORDING,),
        needs_readings=False,
    ),
    AlarmKind(
        AlarmName.FORWARD_BEHIND,
        Priority.LOW,
        off_delay_s=10.0,
        suppressed_by=(AlarmName.NOT_RECORDING,),
        needs_readings=False,
    ),
)

BY_NAME: dict[str, AlarmKind] = {kind.name: kind for kind in KINDS}
OF_THE_RECORDER = tuple(kind.name for kind in KINDS if not (kind.needs_readings or kind.blinds))
"""What the recorder raises about itself, for every run alike."""


def is_unknown(event: AlarmEvent, standing: Iterable[AlarmEvent]) -> bool:
    """Whether nobody can say at present if an alarm's condition holds.

    Parameters
    ----------
    standing
        The latest event of every alarm that is not normal.
    """
    kind = BY_NAME.get(event.alarm)
    if kind is not None and not kind.needs_readings:
        return False
    return any(
        raised.alarm in BY_NAME and BY_NAME[raised.alarm].blinds
        for raised in standing
        if raised.state in (State.UNACKNOWLEDGED, State.ACKNOWLEDGED)
    )
