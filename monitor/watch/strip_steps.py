"""What to do at the end of a strip, step by step.

1. A change that looks like the end prompts `strip-looks-finished`; the operator has the last word.
2. Once the operator confirms, or says so unasked, the current is kept on for a while.
3. A hold that has run prompts `hold-done`.
4. Output off after the prompt or the hold prompts `check-wetting`: one unbroken film of water.
5. A cut-out in between keeps the step: the strip goes on afterwards.
6. With the wetting asked for, the next strip begins.
7. An end that nobody confirms while the output stays on was none: the strip goes on.
"""

from enum import Enum

from monitor.analysis.finish import Finish
from monitor.model.event import Prompt, PromptName
from monitor.model.step import FINISH_FOR_S, HOLD_S
from monitor.text import prompts as say
from monitor.text.hold import HOLD_RUNS

LEAST_HOLD_S = 15.0
OFF_S = 2.0


class Step(Enum):
    """Where the strip is."""

    STRIPPING = "stripping"
    LOOKS_FINISHED = "looks finished"
    HOLDING = "holding"
    HELD = "held"


_STRIPPING = Step.STRIPPING
"""Held here: in Python 3.11 finding a member in its class takes ten times as long."""


class StripSteps:
    """The end of one strip after another.

    Parameters
    ----------
    hold_s
        How long to hold on after the chromium seems gone.

    Examples
    --------
    >>> steps = StripSteps()
    >>> steps.confirm(400.0)
    'keep the current on for 20 s'
    >>> [prompt.prompt.value for prompt in steps.update(1, 420_000_000_000, None, False)]
    ['hold-done']
    """

    def __init__(self, hold_s: float = HOLD_S) -> None:
        self._hold_s = hold_s
        self.step = Step.STRIPPING
        self._since_s = 0.0
        self._off_s: float | None = None

    @property
    def is_idle(self) -> bool:
        """True while nothing but a finish can give a prompt."""
        return self.step is _STRIPPING

    def confirm(self, t_s: float, prompt: str = "") -> str:
        """The operator says that the chromium is gone; what follows, in words.

        `prompt` is what was asked, "" where the operator's own eye said so.
        """
        if prompt not in ("", PromptName.LOOKS_FINISHED):
            return say.NOTED
        if self.step in (Step.HOLDING, Step.HELD):
            return HOLD_RUNS if self.step is Step.HOLDING else say.HOLD_OVER
        self.step, self._since_s = Step.HOLDING, t_s
        return say.hold_begun(self._hold_s)

    def update(self, seq: int, t_ns: int, finish: Finish | None, is_off: bool) -> list[Prompt]:
        """Take one row: what was found, and whether the output was switched off (not cut out)."""
        t_s = t_ns / 1e9
        prompts = []
        if self.step is Step.LOOKS_FINISHED and t_s - self._since_s >= FINISH_FOR_S and not is_off:
            self.step = Step.STRIPPING
        if finish is not None and self.step is Step.STRIPPING:
            self.step, self._since_s = Step.LOOKS_FINISHED, t_s
            prompts.append(Prompt(PromptName.LOOKS_FINISHED, seq, t_ns, _looks_finished(finish)))
        if self.step is Step.HOLDING and t_s - self._since_s >= self._hold_s:
            self.step = Step.HELD
            message = say.hold_done(self._hold_s)
            prompts.append(Prompt(PromptName.HOLD_DONE, seq, t_ns, message))
        if self._was_switched_off(t_s, is_off):
            prompts.append(Prompt(PromptName.CHECK_WETTING, seq, t_ns, self._wetting()))
            self.step = Step.STRIPPING
        return prompts

    def _was_switched_off(self, t_s: float, is_off: bool) -> bool:
        if not is_off or self.step is Step.STRIPPING:
            self._off_s = None
            return False
        if self._off_s is None:
            self._off_s = t_s
        return t_s - self._off_s >= OFF_S

    def _wetting(self) -> str:
        held_s = (self._off_s or 0.0) - self._since_s
        is_short = self.step is not Step.HELD and held_s < LEAST_HOLD_S
        return say.check_wetting(max(held_s, 0.0) if is_short else None)


def _looks_finished(finish: Finish) -> str:
    took_s = finish.t_s - finish.began_s
    return say.looks_finished(
        finish.change, took_s, finish.is_at_rest, finish.amp_hours, finish.guide_amp_hours
    )
