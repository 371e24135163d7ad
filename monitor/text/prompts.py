"""A prompt's name in; its word in big letters, and what confirms it, out. A prompt is no alarm."""

from monitor.model.event import PromptName
from monitor.text.standing import StateWord

WORDS: dict[str, StateWord] = {
    PromptName.LOOKS_FINISHED: StateWord.LOOKS_FINISHED,
    PromptName.HOLD_DONE: StateWord.HOLD_DONE,
    PromptName.CHECK_WETTING: StateWord.CHECK_WETTING,
    PromptName.LOG_THE_BATH: StateWord.LOG_THE_BATH,
    PromptName.OUTSIDE_STEP_WINDOW: StateWord.OUTSIDE_STEP_WINDOW,
}
TO_DO: dict[str, str] = {
    PromptName.LOOKS_FINISHED: (
        "Look at the part. If the chromium is gone, press x: the hold begins."
    ),
    PromptName.HOLD_DONE: "Output off, lift the part, rinse; then press x.",
    PromptName.CHECK_WETTING: (
        "Does the water film stay whole after the rinse? Press w and say. If it breaks, strip "
        "again. Rinse well before any acid."
    ),
    PromptName.OUTSIDE_STEP_WINDOW: (
        "Look at the part: end the step, or set it back into its window; then press x."
    ),
    PromptName.LOG_THE_BATH: "Write down how the bath is; then press x.",
}


def prompt_word(prompt: str) -> StateWord:
    """Its word; a plain one for a prompt that nobody knows."""
    return WORDS.get(prompt, StateWord.LOOK)


def prompt_to_do(prompt: str) -> str:
    """What to do about it, and the key that confirms it."""
    return TO_DO.get(prompt, "When it is done, press x.")
