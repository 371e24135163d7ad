"""Are the meters fine enough for the job, and do they still move?

A frozen supply answers on with an old value. A coarse meter on a quiet bath repeats its value, too:
only one that had wandered up and down over several values is said to be frozen.
"""

from collections import deque
from collections.abc import Iterable
from itertools import pairwise

from monitor.analysis.finish import LEAST_FALL
from monitor.analysis.volts_set import MOVED_SHARE, MOVED_VOLTS
from monitor.model.sample import longest_step_s

FROZEN_S = 120.0
TIMES_LONGEST = 10.0
"""So many times the longest stand before is no chance."""
KEPT = 24
LEAST_VALUES = 3
LEAST_TURNS = 4
"""Readings that take so many values and turn so often wander; a ramp or two values are not that."""
KNOWN_S = 30.0
"""After so long under current the steps of the amps are known."""
LONGEST_S = 10.0
STEPS_SEEN = 2.0
"""A meter that shows one step more may only have rounded the other way."""
LEAST_CHANGES = 8
COARSEST_DIGITS, FINEST_DIGITS = 1, 3


class Meter:
    """The meters of one supply, as its readings show them.

    Parameters
    ----------
    poll_s
        Seconds between polls.

    Examples
    --------
    Steps of 0.1 A at 1 A: the end of a strip takes less than one of them.

    >>> meter = Meter(1.0)
    >>> for second in range(40):
    ...     meter.update(float(second), 7.0, 1.1 if second % 9 else 1.0, flows=True)
    >>> round(meter.amp_step, 3), round(meter.least_rise_amps, 3), meter.is_frozen
    (0.1, 0.2, False)
    """

    __slots__ = (
        "_amps",
        "_began_s",
        "_changed_s",
        "_changes",
        "_digits",
        "_flowed_s",
        "_last_s",
        "_longest_gap_s",
        "_longest_s",
        "_recent",
        "_volts",
        "amp_step",
        "is_frozen",
        "least_rise_amps",
        "unchanged_s",
    )

    def __init__(self, poll_s: float) -> None:
        self._longest_gap_s = longest_step_s(poll_s, LONGEST_S)
        self._last_s: float | None = None
        self._volts = self._amps = 0.0
        self._changed_s = self._longest_s = self._flowed_s = 0.0
        self._changes = 0
        self._digits = COARSEST_DIGITS
        self._recent: deque[tuple[float, float]] = deque(maxlen=KEPT)
        self.amp_step: float | None = None
        self.unchanged_s = 0.0
        self.is_frozen = False
        self.least_rise_amps: float | None = None

    def update(self, t_s: float, volts: float, amps: float, flows: bool) -> None:
        """Take one reading; `flows` says whether it is one under current."""
        last_s = self._last_s
        if not flows:
            self._last_s, self.is_frozen, self.unchanged_s = None, False, 0.0
            return
        self._last_s = t_s
        if last_s is None or t_s - last_s > self._longest_gap_s:
            self._volts, self._amps, self._changed_s = volts, amps, t_s
            self._longest_s, self.is_frozen = 0.0, False
            self._recent.clear()
            return
        if self._flowed_s < KNOWN_S:
            self._learn_step(t_s - last_s, amps)
        if volts == self._volts and amps == self._amps:
            self.unchanged_s = t_s - self._changed_s
            if self.unchanged_s >= FROZEN_S and not self.is_frozen:
                self.is_frozen = self._wandered()
            return
        off = volts - self._volts
        most = MOVED_SHARE * volts
        if most < MOVED_VOLTS:
            most = MOVED_VOLTS
        if off > most or off < -most:
            self._longest_s = 0.0
            self._recent.clear()
        elif t_s - self._changed_s > self._longest_s and not self.is_frozen:
            self._longest_s = t_s - self._changed_s
        self._recent.append((volts, amps))
        self._volts, self._amps, self._changed_s = volts, amps, t_s
        self.unchanged_s, self.is_frozen = 0.0, False

    def _wandered(self) -> bool:
        if self.unchanged_s < TIMES_LONGEST * self._longest_s:
            return False
        volts, amps = zip(*self._recent, strict=True) if self._recent else ((), ())
        return _wanders(volts) or _wanders(amps)

    def _learn_step(self, gone_s: float, amps: float) -> None:
        change = abs(amps - self._amps)
        if change > 1e-9:
            self._changes += 1
            if self.amp_step is None or change < self.amp_step:
                self.amp_step = change
        if self._digits < FINEST_DIGITS and amps != round(amps, self._digits):
            self._digits += 1
        self._flowed_s += gone_s
        if self._flowed_s < KNOWN_S:
            return
        digits = 10.0**-self._digits
        if self.amp_step is None or self._changes < LEAST_CHANGES:
            # It hardly changed: then its decimals tell the step.
            self.amp_step = min(self.amp_step or digits, digits)
        if self.amp_step > LEAST_FALL * amps:
            self.least_rise_amps = STEPS_SEEN * self.amp_step


def _wanders(values: Iterable[float]) -> bool:
    """Whether values go up and down over several levels."""
    kept = list(values)
    moves = [after - before for before, after in pairwise(kept) if after != before]
    turns = sum(before * after < 0.0 for before, after in pairwise(moves))
    return len(set(kept)) >= LEAST_VALUES and turns >= LEAST_TURNS
