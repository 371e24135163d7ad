"""How long current has flowed through one strip: its time limit at the start, an alarm after it."""

from collections.abc import Sequence

from monitor.model.alarm import AlarmName
from monitor.model.card import Way
from monitor.model.event import Prompt, PromptName
from monitor.model.finding import Finding
from monitor.model.fittings import Fittings
from monitor.model.step import STRIP
from monitor.text import alarm_messages as say
from monitor.text.prompts import time_limit
from monitor.watch.seen import Seen
from monitor.watch.strip_steps import Step

TANK_MINUTES, SWAB_MINUTES = 20.0, 10.0
"""Of a strip whose step has no minutes of its own (common practice, no source)."""
AGAIN_S = 300.0
NEW_STRIP_S = 60.0
"""After so long without current something else hangs in the bath: the time begins anew."""
STOPPED_S = 10.0
"""A swab is lifted for shorter times."""
_SWAB = Way.SWAB
AT_ITS_END = (Step.HOLDING, Step.HELD)

IN_TIME = (Finding(AlarmName.TIME_OVER, False, say.IN_TIME),)
OVER_ALREADY = Finding(AlarmName.TIME_OVER, False, say.STILL_FLOWS, at_once=True)


class TimeWatch:
    """Counts the seconds with current, also those of a short silence before it.

    Parameters
    ----------
    fittings
        Name the step in force and its minutes.
    """

    def __init__(self, fittings: Fittings) -> None:
        self._job_step = fittings.step
        self._way: Way | None = None
        self._flowed_s = self._flowed_until_s = 0.0
        self._last_s: float | None = None
        self._said_s: float | None = None
        self._next_s: float | None = None
        self._was = Step.STRIPPING
        self.findings: tuple[Finding, ...] = IN_TIME

    def refit(self, fittings: Fittings, way: Way | None) -> None:
        """Go on with another card; another step begins its own time."""
        if fittings.step.name != self._job_step.name:
            self._begin()
        self._job_step, self._way = fittings.step, way

    def note_flow(self, until_s: float) -> None:
        """Count the current that flowed since the last row, up to one that was not shown."""
        if self._last_s is not None:
            self._flowed_s += until_s - self._last_s
            self._last_s = self._flowed_until_s = until_s

    @property
    def is_anew(self) -> bool:
        """Whether five more minutes have just passed: findings to be shown once, not again."""
        return len(self.findings) > 1

    def have_said(self) -> None:
        """Pass over the first time limit, which a run was told before it was interrupted."""
        if self._said_s is None:
            self._said_s = self._limit_s(is_swab=False)

    def update(self, seen: Seen) -> Sequence[Prompt]:
        """Take the next row; the time limit where it was not said yet."""
        if seen.step is not self._was:
            if self._was in AT_ITS_END and seen.step is Step.STRIPPING:
                self._begin()
            self._was = seen.step
        if seen.amps is None:
            return ()
        t_s, last_s = seen.t_s, self._last_s
        self._last_s = t_s
        if not seen.flows:
            self._without_current(t_s - self._flowed_until_s)
            return ()
        if last_s is not None and t_s - last_s <= NEW_STRIP_S:
            self._flowed_s += t_s - last_s
        self._flowed_until_s = t_s
        limit_s = self._limit_s(seen.is_swab)
        if limit_s is None:
            return ()
        self._judge(limit_s)
        if limit_s == self._said_s:
            return ()
        self._said_s = limit_s
        words = time_limit(self._job_step.name, limit_s, self._job_step.minutes is None)
        return [Prompt(PromptName.TIME_LIMIT, seen.row.seq, seen.row.t_ns, words)]

    def _limit_s(self, is_swab: bool) -> float | None:
        step = self._job_step
        if step.minutes is not None:
            return step.minutes[1] * 60.0
        if step.name != STRIP:
            return None
        is_swab = self._way is _SWAB or (self._way is None and is_swab)
        return 60.0 * (SWAB_MINUTES if is_swab else TANK_MINUTES)

    def _judge(self, limit_s: float) -> None:
        if self._flowed_s <= limit_s:
            self._next_s, self.findings = None, IN_TIME
            return
        if self._next_s is not None and self._flowed_s < self._next_s:
            # Only the newest: the one before it made room for a new occurrence.
            if len(self.findings) > 1:
                self.findings = self.findings[1:]
            return
        is_first, words = self._next_s is None, say.time_over(self._flowed_s, limit_s)
        over = Finding(AlarmName.TIME_OVER, True, words, at_once=True)
        # Who has acknowledged the first occurrence hears of the next five minutes all the same.
        self.findings = (over,) if is_first else (OVER_ALREADY, over)
        self._next_s = self._flowed_s + AGAIN_S

    def _without_current(self, for_s: float) -> None:
        if for_s > NEW_STRIP_S:
            self._begin()
        elif for_s >= STOPPED_S:
            self._next_s, self.findings = None, IN_TIME

    def _begin(self) -> None:
        self._flowed_s, self._next_s = 0.0, None
        self.findings = IN_TIME
