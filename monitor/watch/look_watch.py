"""Amps that sink at the same volts: the level drops, a contact corrodes, or the strip has ended."""

from collections import deque
from collections.abc import Sequence
from typing import NamedTuple

from monitor.model.card import Way
from monitor.model.event import Prompt, PromptName
from monitor.model.finding import Finding
from monitor.model.fittings import Fittings
from monitor.text.prompts import look
from monitor.watch.seen import Seen
from monitor.watch.strip_steps import Step

FELL = 0.32
"""Of the highest level of the last ten minutes: a third, within what noise and leads take off."""
WITHIN_S = 600.0
BLOCK_S = 5.0
STEP = 0.12
"""A fall by more from one mean to the next is a step: another prompt asks about those."""
_STRIPPING = Step.STRIPPING
SAME_VOLTS, SAME_SHARE = 0.12, 0.012


class _Mean(NamedTuple):
    t_s: float
    amps: float


class LookWatch:
    """Holds means over five seconds against the highest of the last ten minutes."""

    def __init__(self) -> None:
        self._means: deque[_Mean] = deque()
        self._volts = 0.0
        self._until_s: float | None = None
        self._sum = 0.0
        self._count = 0
        self.findings: tuple[Finding, ...] = ()

    def refit(self, fittings: Fittings, way: Way | None) -> None:
        """Nothing here goes by a card."""

    def update(self, seen: Seen) -> Sequence[Prompt]:
        """Take the next row."""
        amps, volts, t_s = seen.amps, seen.volts, seen.t_s
        if amps is None or volts is None:
            return ()
        if not seen.flows or seen.is_swab or seen.step is not _STRIPPING:
            self._until_s = None
            return ()
        until_s = self._until_s
        if until_s is None or abs(volts - self._volts) > max(SAME_VOLTS, SAME_SHARE * self._volts):
            self._begin(t_s, volts)
        elif t_s >= until_s:
            mean = _Mean(t_s, self._sum / self._count)
            self._sum, self._count = 0.0, 0
            self._until_s = t_s + BLOCK_S
            prompts = self._look(seen, mean)
            self._sum, self._count = amps, 1
            return prompts
        self._sum += amps
        self._count += 1
        return ()

    def _begin(self, t_s: float, volts: float) -> None:
        self._means.clear()
        self._volts, self._until_s = volts, t_s + BLOCK_S
        self._sum, self._count = 0.0, 0

    def _look(self, seen: Seen, mean: _Mean) -> Sequence[Prompt]:
        means = self._means
        if means and mean.amps < (1.0 - STEP) * means[-1].amps:
            means.clear()
        while means and mean.t_s - means[0].t_s > WITHIN_S:
            means.popleft()
        # What is lower than a later mean can never be the highest again.
        while means and means[-1].amps <= mean.amps:
            means.pop()
        means.append(mean)
        fell = 1.0 - mean.amps / means[0].amps
        if fell < FELL:
            return ()
        words = look(fell, mean.t_s - means[0].t_s)
        means.clear()
        means.append(mean)
        return [Prompt(PromptName.LOOK, seen.row.seq, seen.row.t_ns, words)]
