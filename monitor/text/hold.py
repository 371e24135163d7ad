"""What the operator confirmed and what was prompted in; how much of the hold is left out."""

from collections.abc import Sequence

from monitor.model.event import Prompt, PromptName
from monitor.model.request import Request, RequestKind
from monitor.model.run import Segment
from monitor.text.numbers import clock
from monitor.watch.strip_steps import HOLD_S

BEGINS_HOLD = ("", PromptName.LOOKS_FINISHED)
"""What a confirmation answers that begins the hold; "" is the operator's own eye."""
ENDS_HOLD = (PromptName.HOLD_DONE, PromptName.CHECK_WETTING)
LATE_S = 3.0
"""The recorder tells the end of the hold with the row after it; so long nothing is said instead."""

HOLD_TO_DO = (
    "Leave the output on: 15 to 30 s are usual, more if in doubt; nickel does not suffer from it."
)


def hold_left_s(
    requests: Sequence[Request], prompts: Sequence[Prompt], segment: Segment | None, now_s: float
) -> float | None:
    """Seconds of the hold that are left; None where none runs.

    The recorder's own count decides; this is the same count by the reader's clock. The first
    confirmation of a strip begins it, and nothing does between the hold's end and the wetting.

    Parameters
    ----------
    requests, prompts
        Those of the run, oldest first.
    segment
        The recorder's present stretch of the run, whose clocks place a request in the run.
    now_s
        Run seconds.
    """
    if segment is None:
        return None
    last = next((one for one in reversed(prompts) if one.prompt in ENDS_HOLD), None)
    if last is not None and last.prompt == PromptName.HOLD_DONE:
        return None
    since_s = 0.0 if last is None else last.t_s
    for one in requests:
        is_confirmation = one.kind is RequestKind.NEXT_STEP and one.detail in (
            "",
            PromptName.LOOKS_FINISHED,
        )
        if not is_confirmation or one.outcome is None:
            continue
        began_s = (segment.began_t_ns + one.utc_ns - segment.began_utc_ns) / 1e9
        if began_s >= since_s:
            left_s = began_s + HOLD_S - now_s
            return max(left_s, 0.0) if left_s > -LATE_S else None
    return None


def hold_sentence(left_s: float) -> str:
    """The countdown in words.

    >>> hold_sentence(11.2)
    '0:12 more'
    """
    return f"{clock(left_s + 0.999)} more"
