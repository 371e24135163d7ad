"""What every prompt says: its words in big letters, what to do, and its sentence with the numbers.

A prompt asks the operator for a look or a hand; it is no alarm. A key confirms it.
"""

from collections.abc import Sequence
from typing import NamedTuple

from monitor.model.event import PromptName
from monitor.model.step import Window, window_text
from monitor.text.standing import StateWord


class PromptText(NamedTuple):
    """The words in big letters, and what to do."""

    word: StateWord
    to_do: str


PROMPT_TEXTS: dict[str, PromptText] = {
    PromptName.LOOKS_FINISHED: PromptText(
        StateWord.LOOKS_FINISHED,
        "Look at the part. If the chromium is gone, press x and keep the current on.",
    ),
    PromptName.HOLD_DONE: PromptText(
        StateWord.HOLD_DONE,
        "Output OFF. Lift the part and rinse it; then press x.",
    ),
    PromptName.CHECK_WETTING: PromptText(
        StateWord.CHECK_WETTING,
        "Output OFF. Is the chromium gone everywhere? Press w and answer. Patches: strip again. A"
        " film that breaks alone: clean the part. Rinse well before any acid.",
    ),
    PromptName.OUTSIDE_STEP_WINDOW: PromptText(
        StateWord.OUTSIDE_STEP_WINDOW,
        "Look at the part. End the step, or bring it back into its window; then press x.",
    ),
    PromptName.LOG_THE_BATH: PromptText(
        StateWord.LOG_THE_BATH,
        "Write down the state of the bath; then press x.",
    ),
    PromptName.LOOK: PromptText(
        StateWord.LOOK,
        "Look at the part, its contact and the level. Output off before you touch; then press x.",
    ),
    PromptName.AMPS_UNEXPECTED: PromptText(
        StateWord.LOOK,
        "Compare parts, clips and volts with the job. Output off before you touch; then press x.",
    ),
    PromptName.OUTPUT_STILL_ON: PromptText(
        StateWord.LOOK,
        "Output off, or go on with the swab; then press x.",
    ),
    PromptName.OFF_OR_CUT_OUT: PromptText(
        StateWord.LOOK,
        "Look at the supply. If it cut out, let it cool and lower the volts. Then press x.",
    ),
    PromptName.END_THE_RUN: PromptText(
        StateWord.LOOK,
        "End the run, or switch the supply on again; then press x.",
    ),
    PromptName.WAS_THAT_YOU: PromptText(
        StateWord.VOLTS_CHANGED,
        "If it was not you, turn the volts back down. Then press x.",
    ),
    PromptName.TURN_DOWN: PromptText(
        StateWord.TURN_DOWN,
        "Set these volts by then; they are reckoned anew each minute. Press x to hide.",
    ),
    PromptName.RESISTANCE_JUMPED: PromptText(
        StateWord.LOOK,
        "Look at parts and clips. Output off before you touch them. Then press x.",
    ),
}
UNKNOWN_PROMPT = PromptText(StateWord.LOOK, "When it is done, press x.")


def prompt_text(prompt: str) -> PromptText:
    """Its texts; plain ones for a name that nobody knows."""
    return PROMPT_TEXTS.get(prompt, UNKNOWN_PROMPT)


def looks_finished(
    change: float,
    took_s: float,
    is_at_rest: bool,
    amp_hours: float,
    guide_amp_hours: float | None = None,
) -> str:
    """The conductance changed the way it does when the chromium is gone.

    `guide_amp_hours` is Faraday's charge for the part; None where it is not known.
    """
    way = "fell" if change < 0.0 else "rose"
    guide = "" if guide_amp_hours is None else f" (Faraday's guide: {guide_amp_hours:.2f})"
    rest = " and is steady now" if is_at_rest else " of swab work"
    return (
        f"the conductance {way} by {abs(change):.0%} within {took_s:.0f} s{rest}, after "
        f"{amp_hours:.2f} Ah{guide}. Look at the part; if the chromium is gone, confirm and keep "
        "the current on for 15 to 30 s"
    )


def hold_done(hold_s: float) -> str:
    """The current was kept on long enough."""
    return (
        f"Output OFF. Rinse, look at colour and water film; current was kept on for {hold_s:.0f} s"
    )


def check_wetting(short_hold_s: float | None) -> str:
    """The output is off; `short_hold_s` is the hold where it was too short.

    Two looks, for the film does not show that chromium is gone: ASTM F22 finds films that repel
    water. Draining water must stay one film; it fails if that breaks within a minute.
    """
    brief = (
        ""
        if short_hold_s is None
        else f"Current kept on for only {short_hold_s:.0f} s; 15 to 30 s are usual. "
    )
    return (
        f"{brief}Rinse and look: is the chromium gone everywhere (bare nickel is yellower)? Hold "
        "upright: does the water stay an unbroken film for one minute?"
    )


def log_the_bath(peak_amps: float, limit_amps: float) -> str:
    """The bath came near the limit in this run."""
    return (
        f"the bath drew up to {peak_amps:.2f} A of {limit_amps:g}: enter a top-up, a dilution or "
        "a note in its ledger"
    )


def too_cold(celsius: float, window: Window) -> str:
    """The bath is under the step's window of temperature."""
    return f"runs at {celsius:.0f} C; its window is {window_text(window, 'C')}"


def too_thin(amps_per_dm2: float, window: Window) -> str:
    """The current density is under the step's window."""
    return f"runs at {amps_per_dm2:.1f} A/dm2; its window is {window_text(window, 'A/dm2')}"


def outside_step_window(step: str, what: Sequence[str]) -> str:
    """The step, and each window that it is outside of."""
    return f"the {step} {'; it '.join(what)}"


def time_limit(step: str, limit_s: float, is_default: bool) -> str:
    """How long current may flow through one part."""
    whose = " (default)" if is_default else ""
    return f"time limit of this {step}: {limit_s / 60.0:g} min{whose}"


def output_still_on(idle_s: float) -> str:
    """The swab was put down."""
    return f"the swab has been off the part for {idle_s / 60.0:.0f} min; the output is still on"


def look(fell: float, within_s: float) -> str:
    """The amps have sunk at the same volts."""
    return (
        f"amps have fallen by {fell:.0%} within {within_s / 60.0:.0f} min at the same volts: look "
        "at contact, level, or the end of the strip"
    )


def amps_unexpected(
    low: float, middle: float | None, high: float, amps: float, volts_count: bool = True
) -> str:
    """The amps at switch-on are unlike this job's; `middle` where like jobs are known.

    `volts_count` says that wrong volts may be why: the amps were not brought to those measured.

    >>> amps_unexpected(5.8, 6.4, 7.1, 2.9, volts_count=False)
    'expected 6.4 A (5.8 to 7.1), measured 2.9 A: bad clip, or part half out of the solution?'
    """
    expected = f"{low:.1f} to {high:.1f} A" if middle is None else f"{middle:.1f} A"
    spread = "" if middle is None else f" ({low:.1f} to {high:.1f})"
    why = ["metal touching", "too many parts"]
    if amps < low:
        why = ["bad clip", "part half out of the solution"]
    if volts_count:
        why.append("wrong volts")
    reasons = f"{why[0]}, {why[1]}, or {why[2]}" if volts_count else f"{why[0]}, or {why[1]}"
    return f"expected {expected}{spread}, measured {amps:.1f} A: {reasons}?"


def volts_unexpected(usual_volts: float, volts: float, amps: float) -> str:
    """The amps fit the volts at switch-on, but like jobs began at far lower ones.

    >>> volts_unexpected(7.0, 10.5, 10.9)
    'expected about 7.0 V as in like jobs, measured 10.5 V and 10.9 A: wrong volts?'
    """
    return (
        f"expected about {usual_volts:.1f} V as in like jobs, measured {volts:.1f} V and "
        f"{amps:.1f} A: wrong volts?"
    )


def off_or_cut_out(peak_amps: float | None, limit_amps: float) -> str:
    """The output went off near the limit, and nothing tells why."""
    amps = "" if peak_amps is None else f" at {peak_amps:.1f} A of {limit_amps:g}"
    return f"the output went off{amps}: switched off, or cut out?"


END_THE_RUN = "no answers since the output was off: finished for today? End the run"
HEAT_NOT_WATCHED = "heat of leads and swab is not watched: give the wire gauge in the settings"


def meter_too_coarse(step: float, least_rise: float) -> str:
    """The meter's steps hide what the end of a strip changes."""
    return (
        f"the meter has steps of {step:.2g} A: the end of the strip and rises under "
        f"{least_rise:.2g} A cannot be seen"
    )


def check_setting(held_amps: float) -> str:
    """The supply does at its limit what the settings do not say."""
    return (
        f"the supply holds {held_amps:.1f} A and does not cut out: set "
        'at_limit = "holds" in the settings'
    )


def check_cells(intercept_volts: float, cells: int) -> str:
    """The electrodes take more or fewer volts than so many cells can."""
    return (
        f"the electrodes take {intercept_volts:.1f} V, too much or too little for {cells} "
        f"{'cell' if cells == 1 else 'cells'} in series: set cells in the settings"
    )


def was_that_you(from_volts: float, to_volts: float) -> str:
    """The volts jumped up, and nothing had asked for it."""
    return f"volts went from {from_volts:.1f} to {to_volts:.1f} V: was that you?"


def resistance_jumped(from_amps: float, to_amps: float, volts: float) -> str:
    """The amps fell by a step."""
    return (
        f"resistance jumped: {from_amps:.1f} to {to_amps:.1f} A at {volts:.1f} V; bad clip, or a "
        "part taken out?"
    )


def resistance_crept(milliohms: float, watts: float) -> str:
    """A smaller step, that took longer to see."""
    return (
        f"resistance jumped by {milliohms:.0f} milliohm: bad clip ({watts:.0f} W of heat in it), "
        "or a part taken out?"
    )


def hold_begun(hold_s: float) -> str:
    """The answer to a confirmation: the hold runs now."""
    return f"keep the current on for {hold_s:.0f} s"


NOTED = "noted"
HOLD_OVER = "the time is up already"
OUTPUT_IS_OFF = "the output is off"
