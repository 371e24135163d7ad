"""The names of alarms, prompts and states that the rows ask for; the program follows these tables.

How the judge reads them:

- An alarm is the output line `{"kind":"alarm","alarm":NAME,"change":"raised","priority":...,
  "message":...,"action":...}`. `action` is what the screen tells the operator to do for this
  occurrence. It may differ from one occurrence to the next ("Turn down to 7.8 V."); a line without
  it is read with the catalogue's action.
- An alarm that repeats (`time-over`) prints a line with the change `raised` or `repeated`.
- A prompt is the line `{"kind":"prompt","prompt":NAME,"message":...}`. A prompt is a question or a
  request; it is never an alarm, and it is printed once for each cause.
- The sound command gets the priority as its last argument; for a prompt that asks for a hand,
  `prompt` (PROMPT_SOUND). A low alarm sounds once and is not repeated.
- Settings that the program does not know yet go to `RunFacts`, `Fittings` or `Vigil` as soon as one
  of them takes `cells` (a number) or `usual_amps` (low, middle and high of like jobs).
- A state is the capital word of the screen's state line; `monitor.text.standing` composes it.
"""

from dataclasses import dataclass

SHORT = "short"
AMPS_JUMPED = "amps-jumped"
LIMIT_WRONG = "limit-wrong"
NO_CURRENT = "no-current"
REVERSED = "reversed"
VOLTS_HIGH = "volts-high"
VOLTS_LOW = "outside-voltage-window"
"""The low side of the window keeps the name that it had; the high side is volts-high."""
MARGIN_SMALL = "margin-small"
TIME_OVER = "time-over"
STILL_ON = "still-on"
READINGS_FROZEN = "readings-frozen"
TRIPPED = "tripped"
TRIP_EXPECTED = "trip-expected"
CURRENT_LIMITED = "current-limited"
OVERHEATING = "overheating"
DENSITY_HIGH = "density-high"
CONNECTION_RESISTANCE = "connection-resistance"
NO_DATA = "no-data"


@dataclass(frozen=True, slots=True)
class AlarmName:
    """An alarm as the rows know it.

    Parameters
    ----------
    priority
        The lowest that will do; "from" says when it is higher.
    action_begins
        The first words of its action; "" where no row says.
    rows
        Where it is asked for.
    """

    name: str
    priority: str
    action_begins: str
    says: str
    rows: str


ALARMS = (
    AlarmName(SHORT, "critical", "Output OFF.", "metal touches metal", "A1 to A4, A14"),
    AlarmName(
        AMPS_JUMPED,
        "medium; high where the amps pass 95 % of the limit",
        "Output OFF.",
        "amps up by a quarter or more within a second at the same volts",
        "A14",
    ),
    AlarmName(
        LIMIT_WRONG,
        "medium",
        "Check the limit in the settings.",
        "amps stand at 1.1 times the stated limit or more; no forecast meanwhile",
        "A5",
    ),
    AlarmName(NO_CURRENT, "medium", "Output OFF", "volts stand, no amps: open circuit", "A9"),
    AlarmName(
        REVERSED,
        "high",
        "Output OFF.",
        "volts under -0.3 V, or amps under -2 % of the limit",
        "V1",
    ),
    AlarmName(
        VOLTS_HIGH,
        "medium; high from 1.5 times the window's upper end",
        "Turn down to",
        "volts over the step's window; the action names the volts to set",
        "V2",
    ),
    AlarmName(
        VOLTS_LOW,
        "low",
        "",
        "volts under the window, nobody turned down after a warning, the supply does not limit",
        "V3",
    ),
    AlarmName(MARGIN_SMALL, "medium", "Turn down to", "amps over 95 % of the limit for 10 s", "V4"),
    AlarmName(
        TIME_OVER,
        "medium",
        "Look at the part.",
        "current for longer than the step's minutes (tank 20, swab 10); again every 5 min",
        "T1",
    ),
    AlarmName(
        STILL_ON,
        "medium",
        "Output OFF.",
        "current 60 s after the hold's end; or no current for 15 min with the volts up",
        "T2, T3",
    ),
    AlarmName(
        READINGS_FROZEN,
        "medium",
        "Go by the supply's own meters.",
        "no digit of volts or amps changed for 120 s under current, though they did before",
        "M1",
    ),
    AlarmName(TRIPPED, "critical", "Output OFF.", "the supply has cut out", "A3, A8, A14"),
    AlarmName(CURRENT_LIMITED, "medium", "", "the supply holds its current", "A2, A6, A7"),
    AlarmName(OVERHEATING, "high", "Output OFF", "a lead, the swab or the bath is hot", "H1"),
    AlarmName(NO_DATA, "critical", "", "not after an output that was off for 60 s", "T4"),
)

PROMPT_SOUND = "prompt"

LOOK = "look"
RESISTANCE_JUMPED = "resistance-jumped"
AMPS_UNEXPECTED = "amps-unexpected"
WAS_THAT_YOU = "was-that-you"
CHECK_SETTING = "check-setting"
OUTPUT_STILL_ON = "output-still-on"
OFF_OR_CUT_OUT = "switched-off-or-cut-out"
END_THE_RUN = "end-the-run"
METER_TOO_COARSE = "meter-too-coarse"
HEAT_NOT_WATCHED = "heat-not-watched"
TIME_LIMIT = "time-limit"
CHECK_CELLS = "check-cells"


@dataclass(frozen=True, slots=True)
class PromptName:
    """A prompt as the rows know it.

    Parameters
    ----------
    message
        An example; what stands in [] the judge looks for (without regard to case), the rest is
        free.
    sounds
        Whether it asks for a hand at once, and so sounds.
    rows
        Where it is asked for.
    """

    name: str
    message: str
    sounds: bool
    rows: str


PROMPTS = (
    PromptName(
        LOOK,
        "Amps have fallen by [38 %]: look at contact, level, or the end of the strip.",
        True,
        "A11",
    ),
    PromptName(
        RESISTANCE_JUMPED,
        "[Resistance jumped]: bad clip, or a part taken out?",
        True,
        "A12",
    ),
    PromptName(
        AMPS_UNEXPECTED,
        "[Expects 6.4 A] (5.8 to 7.1), [reads 9.8 A]: touching, too many parts, or wrong volts?",
        True,
        "A13",
    ),
    PromptName(WAS_THAT_YOU, "Volts went from [6.0] to [12.0 V]: was that you?", True, "V4"),
    PromptName(
        CHECK_SETTING,
        "The supply holds its current: set [at_limit = holds] in the settings.",
        False,
        "A6",
    ),
    PromptName(OUTPUT_STILL_ON, "The swab is off the part; the [output is still on].", True, "A10"),
    PromptName(OFF_OR_CUT_OUT, "[Switched off, or cut out]?", False, "T5"),
    PromptName(END_THE_RUN, "Finished for today? [End the run].", False, "T4"),
    PromptName(
        METER_TOO_COARSE,
        "Meter steps of 0.1 A: [the end of the strip] and rises under [0.4 A] cannot be seen.",
        False,
        "M2",
    ),
    PromptName(
        HEAT_NOT_WATCHED,
        "Heat of leads and swab is [not watched]: give the [wire gauge].",
        False,
        "H2",
    ),
    PromptName(TIME_LIMIT, "Time limit of this strip: [20 min] (default).", False, "T1"),
    PromptName(
        CHECK_CELLS,
        "The learned intercept is 61 V: state [cells] in the settings if it is a stack.",
        False,
        "stacks of cells",
    ),
)

STATES = {
    "LIMITED": "A6, A7: the supply holds its current",
    "OFF": "V5, T5: the output is off; never with reversed leads (V1)",
    "SWAB OFF": "A10: the swab is off the part",
    "NO DATA": "T4: no answers; quiet where the output was off before",
}
