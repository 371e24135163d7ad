"""Every alarm that the recorder can raise: its name, priority, meaning, action and delays.

Colours, words and sounds follow from here. Each row has an action, since an alarm is by
definition what requires a timely response (ANSI/ISA-18.2). The order is the order in which
alarms that come with the same sample are told, causes before consequences.
"""

from monitor.alarms.alarm import AlarmKind, Priority

TRIP_EXPECTED = "trip-expected"
TRIPPED = "tripped"
CURRENT_LIMITED = "current-limited"
NO_DATA = "no-data"

KINDS: tuple[AlarmKind, ...] = (
    AlarmKind(
        NO_DATA,
        Priority.CRITICAL,
        "No good reading has come from the supply; nothing is known of the strip.",
        "Look at the supply's own meters. Check its power, cable and unit number.",
        latched=True,
    ),
    AlarmKind(
        TRIPPED,
        Priority.CRITICAL,
        "The supply has cut out and the strip has stopped.",
        "Lift the work, let supply and bath cool, then restart at lower volts.",
        latched=True,
    ),
    AlarmKind(
        CURRENT_LIMITED,
        Priority.MEDIUM,
        "The supply holds the amps at its limit and lets the volts fall.",
        "Lower the volts or the area; the bath conducts more than the supply can feed.",
        on_delay_s=2.0,
        off_delay_s=5.0,
    ),
    AlarmKind(
        TRIP_EXPECTED,
        Priority.HIGH,
        "The amps are on their way to the supply's limit.",
        "Lower the volts, or pause and let the bath cool, before the supply cuts out.",
        on_delay_s=2.0,
        off_delay_s=10.0,
    ),
)

BY_NAME = {kind.name: kind for kind in KINDS}
