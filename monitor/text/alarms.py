"""What every alarm says to the operator: what it means, what to do now, and what to beware of.

The texts can be edited freely; nothing compares them. Priorities, delays and the order of the
alarms stand in `monitor/alarms/catalogue.py`.
"""

from typing import NamedTuple

from monitor.base.moments import clock
from monitor.model.alarm import AlarmEvent, AlarmName, State


class AlarmText(NamedTuple):
    """The three sentences of one alarm."""

    meaning: str
    action: str
    caution: str


ALARM_TEXTS: dict[str, AlarmText] = {
    AlarmName.WATCH_FAILED: AlarmText(
        meaning="Monitoring of this supply has crashed; the state of the strip is unknown.",
        action="Go by the supply's own meters. End the recording and start it again.",
        caution="No alarm will warn you until it is back.",
    ),
    AlarmName.WRONG_SUPPLY: AlarmText(
        meaning="A different supply is answering; its readings are not used.",
        action="Connect the first supply again, or end this run and start another.",
        caution="No alarm will warn you until it is back.",
    ),
    AlarmName.HOST_PAUSED: AlarmText(
        meaning="This computer or the recorder paused for a while; nothing was watched.",
        action="Look at the part and at the supply's own meters. Keep this computer awake.",
        caution="Nobody knows what happened in that time; look before you go on.",
    ),
    AlarmName.NO_DATA: AlarmText(
        meaning="The supply gives no valid reading; the state of the strip is unknown.",
        action="Look at the supply's own meters. Check its power, cable and Modbus address.",
        caution="No alarm will warn you until it is back.",
    ),
    AlarmName.SHORT: AlarmText(
        meaning="Short circuit: metal is touching metal.",
        action="Output OFF. Separate part, rack, counter-electrode and clips.",
        caution="Output off before you move anything.",
    ),
    AlarmName.TRIPPED: AlarmText(
        meaning="The supply has cut out and the strip has stopped.",
        action="Output OFF. Let supply and bath cool. Then start again at lower volts.",
        caution="Output off before you touch leads or clips. Gas over the bath burns: no sparks."
        " If the same bath trips again: distilled water or fresh solution.",
    ),
    AlarmName.CURRENT_LIMITED: AlarmText(
        meaning="The supply holds the amps at its limit and lets the volts fall.",
        action="Turn down the volts, or hang fewer parts.",
        caution="Leads, clips and sleeve run hot. If the bath stays like this: distilled water or"
        " fresh solution.",
    ),
    AlarmName.TRIP_EXPECTED: AlarmText(
        meaning="The amps are rising towards the supply's limit.",
        action="Turn down the volts. Or pause and let the bath cool before the supply cuts out.",
        caution="Caustic: gloves and goggles. Pour water or fresh solution slowly, output off,"
        " only under 38 C (100 F).",
    ),
    AlarmName.OVERHEATING: AlarmText(
        meaning="A lead, the swab or the bath is about to overheat.",
        action="Output OFF or turn down. Flush a swab only with the output off. Touch nothing hot.",
        caution="Hot work and hot solution burn. Do not quench the part by hand.",
    ),
    AlarmName.DENSITY_HIGH: AlarmText(
        meaning="The current density on the part is higher than this job allows.",
        action="Turn down the volts. Too high a density heats the part and can scorch it.",
        caution="Hot work burns. Caustic: gloves and goggles.",
    ),
    AlarmName.CONNECTION_RESISTANCE: AlarmText(
        meaning="A connection comes and goes, and is getting hot.",
        action="Output OFF. Clean and tighten clips, plugs and bus bars. They may be hot.",
        caution="Output off before you touch leads or clips: a spark lights the gas over the bath.",
    ),
    AlarmName.OUTSIDE_VOLTAGE_WINDOW: AlarmText(
        meaning="The volts are below the window of this step while current flows.",
        action="Turn the volts up into the window of this step. Or change the window.",
        caution="Caustic: gloves and goggles at the bath.",
    ),
    AlarmName.READINGS_FROZEN: AlarmText(
        meaning="Volts and amps have stopped changing; the supply may repeat an old reading.",
        action="Go by the supply's own meters. Then switch the supply's port or power off and on.",
        caution="No alarm will warn you until the readings change again.",
    ),
    AlarmName.REVERSED: AlarmText(
        meaning="The current flows the wrong way, or the meter is wired the wrong way round.",
        action="Output OFF. The part goes on + for stripping; check the leads.",
        caution="The counter-electrode may dissolve into the bath while this lasts.",
    ),
    AlarmName.AMPS_JUMPED: AlarmText(
        meaning="The amps have jumped at the same volts.",
        action="Output OFF. Look for metal touching metal, or a part hung in under current.",
        caution="Output off before you move anything; a spark lights the gas.",
    ),
    AlarmName.LIMIT_WRONG: AlarmText(
        meaning="The amps are above the limit in the settings: that limit is wrong.",
        action="Check the limit in the settings. No cut-out is forecast until it is right.",
        caution="The supply may cut out without a warning.",
    ),
    AlarmName.MARGIN_SMALL: AlarmText(
        meaning="The amps are close to the supply's limit.",
        action="Turn down the volts. A small rise is enough for a cut-out.",
        caution="Hot work and hot leads burn. Caustic: gloves and goggles.",
    ),
    AlarmName.NO_CURRENT: AlarmText(
        meaning="Volts are on, but no current flows: the circuit is open.",
        action="Output OFF before you touch the clips. Then check clips, leads and part.",
        caution="A clip that touches again under volts makes a spark; sparks light gas.",
    ),
    AlarmName.VOLTS_HIGH: AlarmText(
        meaning="The volts are above the window of this step while current flows.",
        action="Turn down the volts into the window of this step.",
        caution="High volts warm part and bath and can scorch the surface.",
    ),
    AlarmName.TIME_OVER: AlarmText(
        meaning="Current has flowed for longer than this step takes.",
        action="Look at the part. Output OFF if the chromium is gone.",
        caution="Bare nickel becomes passive and can smut; activate it before you plate.",
    ),
    AlarmName.STILL_ON: AlarmText(
        meaning="The output is on, though the strip is over or nothing hangs in the bath.",
        action="Output OFF.",
        caution="Output off before you take the part out; a spark lights the gas.",
    ),
    AlarmName.NOT_RECORDING: AlarmText(
        meaning="Readings cannot be stored. They wait in memory; alarms still work.",
        action="Free disk space, or close the program that locks the file. Leave the recorder on.",
        caution="Readings in memory are lost if this computer goes off.",
    ),
    AlarmName.PART_FAILED: AlarmText(
        meaning="A part of the recorder has failed: sound, notices or storing may not work.",
        action="Stay at the bath and watch the supply's meters. Then restart the recording.",
        caution="The failed part gives no warning; go by the supply's meters until it works.",
    ),
    AlarmName.NOTICE_FAILED: AlarmText(
        meaning="A notice was not delivered; people away from the bench may not be alerted.",
        action="Stay at the bath. Check the network and the settings of the notices.",
        caution="This screen and its sound still work.",
    ),
    AlarmName.DISK_LOW: AlarmText(
        meaning="The store's disk is almost full; recording stops when it is full.",
        action="Free disk space now, before recording stops.",
        caution="Do not delete a store of runs; move other files.",
    ),
    AlarmName.FORWARD_BEHIND: AlarmText(
        meaning="The copy at the server is behind; every reading is kept here and sent later.",
        action="Check server and network; run `bathvigil check`. Leave the recorder on.",
        caution="Alarms here still work; people who look at the server see old readings.",
    ),
}

STATES = {
    State.NORMAL: "over",
    State.UNACKNOWLEDGED: "not acknowledged",
    State.ACKNOWLEDGED: "acknowledged",
    State.RETURNED_UNACKNOWLEDGED: "over, not acknowledged",
    State.SHELVED: "shelved",
    State.SUPPRESSED: "suppressed: another alarm explains it",
    State.OUT_OF_SERVICE: "out of service",
}


def what_to_do(alarm: str) -> str:
    """What the operator should do about this alarm now; "" for a name that nobody knows."""
    text = ALARM_TEXTS.get(alarm)
    return "" if text is None else text.action


def action_of(event: AlarmEvent) -> str:
    """What the operator should do about this occurrence."""
    return event.action or what_to_do(event.alarm)


def caution(alarm: str) -> str:
    """What to beware of meanwhile; "" for a name that nobody knows."""
    text = ALARM_TEXTS.get(alarm)
    return "" if text is None else text.caution


def state_words(event: AlarmEvent, is_unknown: bool, t_s: float | None) -> str:
    """How an alarm stands, such as "not acknowledged" or "shelved, back in 9:58".

    Parameters
    ----------
    is_unknown
        Whether nobody can say at present if its condition holds.
    t_s
        The run's time now, seconds, for the countdown; None where it is not known.
    """
    until_ns = event.shelved_until_ns
    words = STATES[event.state]
    if until_ns is not None and t_s is not None:
        words = f"{words}, back in {clock(until_ns / 1e9 - t_s)}"
    return f"UNKNOWN now, was {words}" if is_unknown else words
