"""An output that is on though nobody needs it: after the hold, over a lifted swab, or over nothing.

Also an output that has been off for a while: a supply that goes silent then was switched off for
the day, and nothing is lost.
"""

from collections.abc import Sequence

from monitor.model.alarm import AlarmName
from monitor.model.card import Way
from monitor.model.event import Prompt, PromptName
from monitor.model.finding import Finding
from monitor.model.fittings import Fittings
from monitor.text import alarm_messages as say
from monitor.text import prompts as words
from monitor.watch.seen import Seen
from monitor.watch.strip_steps import Step

AFTER_HOLD_S = 60.0
LIFTED_S = 120.0
IDLE_S = 900.0
REST_S = 60.0
_HELD = Step.HELD

NEEDED = (Finding(AlarmName.STILL_ON, False, say.NOT_STILL_ON),)


class OutputWatch:
    """Watches one run's output."""

    def __init__(self) -> None:
        self._held_s: float | None = None
        self._idle_s: float | None = None
        self._off_s: float | None = None
        self._is_lift_told = self._is_end_told = False
        self._raised: tuple[Finding, ...] = ()
        self.is_at_rest = False
        self.findings: tuple[Finding, ...] = NEEDED

    def refit(self, fittings: Fittings, way: Way | None) -> None:
        """Nothing here goes by a card."""

    def update(self, seen: Seen) -> Sequence[Prompt]:
        """Take the next row."""
        if seen.amps is None:
            if not self.is_at_rest or not seen.is_lost or self._is_end_told:
                return ()
            self._is_end_told = True
            return [_prompt(seen, PromptName.END_THE_RUN, words.END_THE_RUN)]
        self._take(seen)
        self.findings = self._judge(seen)
        idle_s = 0.0 if self._idle_s is None else seen.t_s - self._idle_s
        if not seen.is_swab or idle_s < LIFTED_S or self._is_lift_told:
            return ()
        self._is_lift_told = True
        return [_prompt(seen, PromptName.OUTPUT_STILL_ON, words.output_still_on(idle_s))]

    def _take(self, seen: Seen) -> None:
        t_s = seen.t_s
        if seen.is_off:
            if self._off_s is None:
                self._off_s = t_s
            self.is_at_rest = t_s - self._off_s >= REST_S
        elif self._off_s is not None:
            self._off_s = None
            self.is_at_rest = self._is_end_told = False
        if seen.is_off or seen.flows:
            self._idle_s, self._is_lift_told = None, False
        elif self._idle_s is None:
            self._idle_s = t_s
        if seen.step is not _HELD:
            self._held_s = None
        elif self._held_s is None:
            self._held_s = t_s

    def _judge(self, seen: Seen) -> tuple[Finding, ...]:
        held_s = 0.0 if self._held_s is None else seen.t_s - self._held_s
        idle_s = 0.0 if self._idle_s is None else seen.t_s - self._idle_s
        if seen.flows and held_s >= AFTER_HOLD_S:
            if not self._raised:
                self._raised = _still_on(say.on_after_hold(held_s))
        elif idle_s >= IDLE_S and seen.volts is not None:
            if not self._raised:
                self._raised = _still_on(say.on_over_nothing(seen.volts, idle_s))
        else:
            self._raised = ()
        return self._raised or NEEDED


def _still_on(message: str) -> tuple[Finding, ...]:
    return (Finding(AlarmName.STILL_ON, True, message),)


def _prompt(seen: Seen, name: PromptName, message: str) -> Prompt:
    return Prompt(name, seen.row.seq, seen.row.t_ns, message)
