"""Every alarm that the recorder can raise: its name, priority, meaning, action and delays.

Colours, words and sounds follow from here. Each row has an action, since an alarm is by
definition what requires a timely response (ANSI/ISA-18.2). The order is the order in which
alarms that come with the same sample are told, causes before consequences.
"""

from monitor.model.alarm import AlarmKind, AlarmName, Priority

KINDS: tuple[AlarmKind, ...] = (
    AlarmKind(
        AlarmName.WATCH_FAILED,
        Priority.CRITICAL,
        "The program's own watch of this supply has failed; nothing is known of the strip.",
        "Go by the supply's own meters. End the recording and start it again.",
        latched=True,
        blinds=True,
        needs_readings=False,
    ),
    AlarmKind(
        AlarmName.WRONG_SUPPLY,
        Priority.CRITICAL,
        "Another supply answers than the one that this run began with; no reading is taken.",
        "Connect the first supply again, or end this run and begin another.",
        latched=True,
        blinds=True,
        needs_readings=False,
    ),
    AlarmKind(
        AlarmName.HOST_PAUSED,
        Priority.MEDIUM,
        "The machine or the recorder stood still for a while; nothing was watched meanwhile.",
        "Look at the work and the supply's own meters. Keep this machine from sleeping.",
        latched=True,
        blinds=True,
        needs_readings=False,
    ),
    AlarmKind(
        AlarmName.NO_DATA,
        Priority.CRITICAL,
        "No good reading has come from the supply; nothing is known of the strip.",
        "Look at the supply's own meters. Check its power, cable and unit number.",
        latched=True,
        suppressed_by=(AlarmName.WATCH_FAILED, AlarmName.WRONG_SUPPLY, AlarmName.HOST_PAUSED),
        blinds=True,
        needs_readings=False,
    ),
    AlarmKind(
        AlarmName.SHORT,
        Priority.CRITICAL,
        "The amps go past the bath: metal touches metal between the leads.",
        "Switch the output off, then part what touches: work, rack, anode or clips.",
        off_delay_s=1.0,
    ),
    AlarmKind(
        AlarmName.TRIPPED,
        Priority.CRITICAL,
        "The supply has cut out and the strip has stopped.",
        "Lift the work, let supply and bath cool, then restart at lower volts.",
        latched=True,
    ),
    AlarmKind(
        AlarmName.CURRENT_LIMITED,
        Priority.MEDIUM,
        "The supply holds the amps at its limit and lets the volts fall.",
        "Lower the volts or the area; the bath conducts more than the supply can feed.",
        on_delay_s=2.0,
        off_delay_s=5.0,
        suppressed_by=(AlarmName.SHORT,),
    ),
    AlarmKind(
        AlarmName.TRIP_EXPECTED,
        Priority.HIGH,
        "The amps are on their way to the supply's limit.",
        "Lower the volts, or pause and let the bath cool, before the supply cuts out.",
        on_delay_s=2.0,
        off_delay_s=10.0,
        suppressed_by=(AlarmName.SHORT,),
    ),
    AlarmKind(
        AlarmName.OVERHEATING,
        Priority.HIGH,
        "A conductor or the bath is on its way past the heat that it stands.",
        "Lower the volts or pause; flush a swab's sleeve with distilled water. Touch nothing hot.",
        on_delay_s=2.0,
        off_delay_s=10.0,
        suppressed_by=(AlarmName.SHORT,),
    ),
    AlarmKind(
        AlarmName.DENSITY_HIGH,
        Priority.MEDIUM,
        "More current flows per area of the work than the job allows.",
        "Lower the volts; too dense a current warms the work and can scorch it.",
        on_delay_s=5.0,
        off_delay_s=5.0,
        suppressed_by=(AlarmName.SHORT,),
    ),
    AlarmKind(
        AlarmName.CONNECTION_RESISTANCE,
        Priority.MEDIUM,
        "A connection has become worse at once and turns current into heat.",
        "Switch the output off; clean and tighten clips, plugs and bus bars. They may be hot.",
        on_delay_s=3.0,
        off_delay_s=5.0,
        suppressed_by=(AlarmName.SHORT, AlarmName.TRIPPED, AlarmName.CURRENT_LIMITED),
    ),
    AlarmKind(
        AlarmName.OUTSIDE_VOLTAGE_WINDOW,
        Priority.LOW,
        "The volts stand outside the window of the strip while current flows.",
        "Set the volts back into the window, or change the window in the settings.",
        on_delay_s=10.0,
        off_delay_s=15.0,
        suppressed_by=(AlarmName.SHORT, AlarmName.TRIPPED, AlarmName.CURRENT_LIMITED),
    ),
    AlarmKind(
        AlarmName.NOT_RECORDING,
        Priority.HIGH,
        "Readings cannot be stored; they wait in memory, and alarms go on.",
        "Make room on the disk, or close what holds the file. Leave the recorder running.",
        needs_readings=False,
    ),
    AlarmKind(
        AlarmName.PART_FAILED,
        Priority.HIGH,
        "A part of the recorder itself has failed: sound, notices or storing may be silent.",
        "Stay at the bath and look at the supply's own meters. End the recording, start it again.",
        needs_readings=False,
    ),
    AlarmKind(
        AlarmName.NOTICE_FAILED,
        Priority.MEDIUM,
        "A notice could not be delivered; alarms may not reach whoever is away.",
        "Stay at the bath. Check the network and the settings of the notices.",
        needs_readings=False,
    ),
    AlarmKind(
        AlarmName.DISK_LOW,
        Priority.MEDIUM,
        "The disk of the store is almost full; recording will stop when it is.",
        "Make room on the disk now, before readings cannot be stored.",
        off_delay_s=10.0,
        suppressed_by=(AlarmName.NOT_RECORDING,),
        needs_readings=False,
    ),
    AlarmKind(
        AlarmName.FORWARD_BEHIND,
        Priority.LOW,
        "The copy at the server falls behind; every reading is kept here and sent later.",
        "See that server and network run, and what `bathvigil check` says. Leave the recorder on.",
        off_delay_s=10.0,
        suppressed_by=(AlarmName.NOT_RECORDING,),
        needs_readings=False,
    ),
)

BY_NAME: dict[str, AlarmKind] = {kind.name: kind for kind in KINDS}
OF_THE_RECORDER = tuple(kind.name for kind in KINDS if not (kind.needs_readings or kind.blinds))
"""What the recorder raises about itself, for every run alike."""
