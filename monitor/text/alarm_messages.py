"""The sentence that goes with each change of an alarm, with its numbers.

Each function is one sentence; the numbers come from `monitor/alarms/`.
"""

from monitor.model.run import LimitKind
from monitor.model.step import Window, window_text

READINGS_COME = "readings are back"
WATCHED_AGAIN = "monitoring is back"
SAME_SUPPLY = "the run's own supply answers again"
GOES_ON = "the computer and the recorder run again"
NO_TRIP = "no trip is expected now"
DELIVERS = "the supply delivers current again"
NOT_HELD = "the supply is below its current limit"
NOT_REVERSED = "volts and current have the right sign"
NO_JUMP = "the amps are back, or have settled at the new level"
JUMPED_FURTHER = "the amps have come close to the limit"
LIMIT_RIGHT = "the amps are below the limit in the settings"
MARGIN = "the amps are clear of the limit"
CURRENT_FLOWS = "current flows again"
IN_TIME = "no current flows any more, or another strip has begun"
STILL_FLOWS = "current has flowed on for another five minutes"
NOT_STILL_ON = "the output is off, or a strip goes on"
LOOK_FOR_METAL = "Output OFF. Look for metal touching metal. Or turn down and hang fewer parts."
MAY_HAVE_CUT_OUT = "Output OFF. If it cut out: let it cool, then start at lower volts."
END_OF_THE_DAY = "End the run, or switch the supply on again."
NO_SHORT = "the current goes through the bath again"
CUT_OUT_ON_SHORT = "the supply has cut out on the short"
NOTHING_HOT = "nothing is too hot now"
MORE_IS_HOT = "something else is getting too hot"
NO_DENSITY = "the current density is not watched"
CONNECTIONS_HOLD = "the connections hold"
IN_WINDOW = "the volts are in the window"
NOT_HIGH = "the volts are not over the window"
FAR_HIGHER = "the volts have gone up much further"
BROUGHT_DOWN = "the volts were brought under the window by hand, or the supply holds the current"
READINGS_MOVE = "the readings change again"
NO_WINDOW = "this step has no window of volts"
SHELF_IS_OVER = "the shelving time is over"
IN_SERVICE = "back in service"
OUTPUT_OFF = "the output is off"
CUT_OUT = "the supply has cut out"
NO_VALUE = "the supply gave no value"


def no_reading(silent_s: float, cause: str) -> str:
    """For `no-data`."""
    return f"no good reading for {silent_s:.0f} s: {cause}"


def short(amps: float, volts: float, ohms: float, bath_amps: float | None) -> str:
    """For `short`; `bath_amps` is what the bath alone would draw."""
    bath = "" if bath_amps is None else f"; the bath draws {bath_amps:.1f} A there"
    return f"{amps:.1f} A at {volts:.2f} V, only {ohms:.3f} ohm{bath}"


def reversed_leads(volts: float, amps: float) -> str:
    """For `reversed`."""
    return f"{volts:.2f} V and {amps:.2f} A: the wrong way round"


def amps_jumped(from_amps: float, to_amps: float, volts: float) -> str:
    """For `amps-jumped`."""
    return f"the amps jumped from {from_amps:.1f} A to {to_amps:.1f} A at {volts:.1f} V"


def limit_wrong(amps: float, limit_amps: float) -> str:
    """For `limit-wrong`."""
    return f"{amps:.1f} A flow, but the settings give a limit of {limit_amps:g} A"


def margin_small(amps: float, limit_amps: float) -> str:
    """For `margin-small`."""
    return f"{amps:.1f} A of {limit_amps:g} A: {amps / limit_amps:.0%} of the limit"


def turn_down_or_pause(volts: float) -> str:
    """An action with its number, where a cut-out is expected."""
    return f"Turn down to {volts:.1f} V. Or pause and let the bath cool."


def turn_down_to(volts: float) -> str:
    """An action with its number."""
    return f"Turn down to {volts:.1f} V."


def off_or_down_to(volts: float) -> str:
    """For `overheating` of a conductor."""
    return f"Output OFF or turn down to {volts:.1f} V. Touch nothing hot."


def no_current(volts: float) -> str:
    """For `no-current`."""
    return f"{volts:.1f} V and no current: the circuit is open"


def time_over(flowed_s: float, limit_s: float) -> str:
    """For `time-over`."""
    return (
        f"current has flowed for {flowed_s / 60.0:.0f} min; the time limit of this strip is "
        f"{limit_s / 60.0:g} min"
    )


def on_after_hold(held_s: float) -> str:
    """For `still-on`, after the end of a strip."""
    return f"the strip is over, and current has flowed on for {held_s:.0f} s"


def on_over_nothing(volts: float, idle_s: float) -> str:
    """For `still-on`, where nothing hangs in the bath."""
    return f"the output is on at {volts:.1f} V, and no current for {idle_s / 60.0:.0f} min"


def tripped(peak_amps: float | None, limit_amps: float) -> str:
    """For `tripped`, where it is sure."""
    peak = "" if peak_amps is None else f" after {peak_amps:.2f} A"
    return f"the supply cut out{peak} (limit {limit_amps:g} A)"


def may_have_tripped(limit_amps: float) -> str:
    """For `tripped`, where it may have been the switch."""
    return f"the output went off near the limit of {limit_amps:g} A"


def held(held_amps: float, volts: float) -> str:
    """For `current-limited`."""
    return f"the supply holds {held_amps:.2f} A; the volts have fallen to {volts:.2f} V"


def trip_expected(
    kind: LimitKind,
    limit_amps: float,
    trip_in_s: float,
    low_s: float | None,
    high_s: float | None,
) -> str:
    """For `trip-expected`."""
    spread = "" if low_s is None else f" ({_about(low_s)} to {_about(high_s)})"
    what = "cuts out" if kind is LimitKind.TRIPS else "comes to its limit"
    return f"the supply {what} at {limit_amps:g} A in about {_about(trip_in_s)}{spread}"


def conductor_hot(name: str, share: float, in_s: float | None, amps: float) -> str:
    """For `overheating` of a lead, a swab or another conductor."""
    if in_s is None or in_s <= 0.0:
        return f"the {name} is at {share:.0%} of the heat it can take, at {amps:.1f} A"
    return f"the {name} reaches the heat it can take in about {_about(in_s)}, at {amps:.1f} A"


def bath_hot(most_celsius: float | None, in_s: float) -> str:
    """For `overheating` of the bath."""
    if in_s <= 0.0:
        return f"the bath is over {most_celsius:g} C"
    return f"the bath reaches {most_celsius:g} C in about {_about(in_s)}"


def density_high(amps_per_dm2: float, most: float) -> str:
    """For `density-high`."""
    return f"{amps_per_dm2:.1f} A/dm2 on the part; at most {most:g} are allowed"


def connection_loose(times: int, from_amps: float, to_amps: float, watts: float) -> str:
    """For `connection-resistance`."""
    return (
        f"the amps fell from {from_amps:.1f} A to {to_amps:.1f} A and came back, {times} times: a "
        f"loose connection, with up to {watts:.0f} W of heat in it"
    )


def volts_high(volts: float, step: str, high: float) -> str:
    """For `volts-high`."""
    return f"{volts:.1f} V, the window of {step} ends at {high:g} V"


def frozen(unchanged_s: float, volts: float, amps: float) -> str:
    """For `readings-frozen`."""
    return f"{volts:g} V and {amps:g} A have not changed by one digit for {unchanged_s:.0f} s"


def volts_low(volts: float, step: str, window: Window) -> str:
    """For `outside-voltage-window`."""
    return f"{volts:.2f} V, the window of {step} is {window_text(window, 'V')}"


SINCE = "since run "
"""How the message of an alarm begins that an earlier run has left."""


def left_by(run: int, message: str) -> str:
    """Nobody acknowledged the alarm in an earlier run; the run that first had it stays named."""
    if message.startswith(SINCE):
        return message
    return f"{SINCE}{run}, not acknowledged: {message}"


def acknowledged(by: str) -> str:
    """An operator has seen the alarm."""
    return f"acknowledged{_by(by)}"


def shelved(minutes: int, by: str) -> str:
    """An operator has put the alarm on the shelf."""
    return f"shelved for {minutes} min{_by(by)}"


def unshelved(by: str) -> str:
    """An operator has taken the alarm off the shelf."""
    return f"unshelved{_by(by)}"


def out_of_service(why: str) -> str:
    """The settings take the alarm out of service."""
    return f"out of service: {why}"


def _by(name: str) -> str:
    return f" by {name}" if name else ""


def _about(seconds: float | None) -> str:
    """A duration in few digits: "50 s", "2.5 min", "over an hour"."""
    if seconds is None or seconds > 3600.0:
        return "over an hour"
    if seconds < 90.0:
        return f"{max(seconds, 0.0):.0f} s"
    return f"{seconds / 60.0:.1f} min" if seconds < 600.0 else f"{seconds / 60.0:.0f} min"
