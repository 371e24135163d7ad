"""The prompt to write up the bath: once a run, after a strip that came near the limit.

Such a bath will soon trip the supply, and the operator is at it now. The water-break test is asked
for first, at once; this follows two minutes later.
"""

from monitor.analysis.cut_out import NEAR_LIMIT
from monitor.model.event import Prompt, PromptName
from monitor.model.sample import Gap, Sample
from monitor.text import prompts as say

AFTER_S = 120.0


class LogWatch:
    """Watches one run.

    Parameters
    ----------
    limit_amps
        Of the supply.

    Examples
    --------
    >>> watch = LogWatch(10.0)
    >>> sample = Sample(0, 0, 0, 5000, 7.0, 9.4)
    >>> watch.update(sample, 9.4, is_off=False)
    >>> off = [Sample(n, n * 10**9, 0, 5000, 0.0, 0.0) for n in range(1, 200)]
    >>> told = [one for row in off if (one := watch.update(row, None, is_off=True)) is not None]
    >>> [(one.t_s, one.message.partition(':')[0]) for one in told]
    [(121.0, 'the bath drew up to 9.40 A of 10')]
    """

    def __init__(self, limit_amps: float) -> None:
        self._limit_amps = limit_amps
        self._peak_amps = 0.0
        self._off_s: float | None = None
        self._is_told = False

    def update(self, row: Sample | Gap, peak_amps: float | None, is_off: bool) -> Prompt | None:
        """Take the next row, the highest amps of the last seconds, and whether the output is off.

        Off is switched off, not cut out.
        """
        if self._is_told:
            return None
        if peak_amps is not None and peak_amps > self._peak_amps:
            self._peak_amps = peak_amps
        if not is_off:
            self._off_s = None
            return None
        if self._off_s is None:
            self._off_s = row.t_s
        near = self._peak_amps >= NEAR_LIMIT * self._limit_amps
        if not near or row.t_s - self._off_s < AFTER_S:
            return None
        self._is_told = True
        return Prompt(
            PromptName.LOG_THE_BATH,
            row.seq,
            row.t_ns,
            say.log_the_bath(self._peak_amps, self._limit_amps),
        )
