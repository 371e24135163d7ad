"""A prompt's name in; its word in big letters, and what confirms it, out. A prompt is no alarm."""

WORDS = {
    "strip-looks-finished": "DONE?",
    "hold-done": "HOLD IS OVER",
    "check-wetting": "WETTING?",
    "log-the-bath": "LOG THE BATH",
    "outside-step-window": "LOOK: STEP",
}
TO_DO = {
    "strip-looks-finished": "Look at the part. If the chromium is gone, press x: the hold begins.",
    "hold-done": "Output off, lift the part, rinse; then press x.",
    "check-wetting": "Does the water film stay whole after the rinse? Press w and say. If it"
    " breaks, strip again. Rinse well before any acid.",
    "outside-step-window": "Look at the part: end the step, or set it back into its window; then"
    " press x.",
    "log-the-bath": "Write down how the bath is; then press x.",
}


def prompt_word(prompt: str) -> str:
    """Its word; a plain one for a prompt that nobody knows."""
    return WORDS.get(prompt, "PLEASE LOOK")


def prompt_to_do(prompt: str) -> str:
    """What to do about it, and the key that confirms it."""
    return TO_DO.get(prompt, "When it is done, press x.")
