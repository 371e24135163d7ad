"""The hold: how long the current is still to be kept on after the chromium seems gone."""

from collections.abc import Sequence
from math import ceil

from monitor.model.event import Prompt, PromptName
from monitor.model.request import Request, RequestKind
from monitor.model.run import Segment
from monitor.model.step import HOLD_S

ENDS_HOLD = (PromptName.HOLD_DONE, PromptName.CHECK_WETTING)
LATE_S = 3.0
"""The recorder tells the end of the hold with the row after it; so long nothing is said instead."""

HOLD_TO_DO = "Leave the output on: 15 to 30 s are usual, more if in doubt."
HOLD_RUNS = "the current is being kept on already; switch the output off when the time is up"


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
    last = next((prompt for prompt in reversed(prompts) if prompt.prompt in ENDS_HOLD), None)
    if last is not None and last.prompt == PromptName.HOLD_DONE:
        return None
    since_s = 0.0 if last is None else last.t_s
    for request in requests:
        is_confirmation = request.kind is RequestKind.NEXT_STEP and request.detail in (
            "",
            PromptName.LOOKS_FINISHED,
        )
        if not is_confirmation or request.outcome is None:
            continue
        began_s = (segment.began_t_ns + request.utc_ns - segment.began_utc_ns) / 1e9
        if began_s >= since_s:
            left_s = began_s + HOLD_S - now_s
            return max(left_s, 0.0) if left_s > -LATE_S else None
    return None


def hold_sentence(left_s: float) -> str:
    """The countdown in words.

    >>> hold_sentence(11.2)
    '12 s left'
    """
    return f"{ceil(left_s)} s left"
