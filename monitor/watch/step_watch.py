"""Whether a step of the job is under its window of temperature or of current density.

Volts, time, too high a density and too warm a bath are alarms. What is told here can wait for a
look, and each is told once.
"""

from dataclasses import dataclass

from monitor.analysis.cut_out import FLOWS
from monitor.model.estimate import Estimate
from monitor.model.event import Prompt, PromptName
from monitor.model.sample import Gap, Sample
from monitor.model.step import JobStep, Window
from monitor.text import prompts as say

STANDS_S = 30.0
"""A bath too cold, or a density too low, counts when it has stood for so long."""


@dataclass(slots=True)
class _Low:
    """Something that must not stay under its window."""

    since_s: float | None = None
    is_told: bool = False

    def stands(self, t_s: float, value: float | None, window: Window | None) -> bool:
        """True once, when it has been too low for long enough."""
        if window is None or value is None or value >= window[0]:
            self.since_s = None
            return False
        if self.since_s is None:
            self.since_s = t_s
        if self.is_told or t_s - self.since_s < STANDS_S:
            return False
        self.is_told = True
        return True


class StepWatch:
    """Watches one step of a job.

    Parameters
    ----------
    step
        The one in force.
    limit_amps
        Of the supply.

    Examples
    --------
    >>> from monitor.model.estimate import Charge, Forecast, Heat
    >>> watch = StepWatch(JobStep("dip", amps_per_dm2=(2.0, 4.0)), 10.0)
    >>> thin = Estimate(0, 0, Forecast(), Charge(), heat=Heat(amps_per_dm2=1.0))
    >>> rows = [Sample(n, n * 10**9, n * 10**9, 5000, 7.0, 5.0) for n in range(90)]
    >>> told = [prompt for row in rows for prompt in watch.update(row, thin)]
    >>> [(prompt.t_s, prompt.message) for prompt in told]
    [(30.0, 'the dip runs at 1.0 A/dm2; its window is 2 to 4 A/dm2')]
    """

    def __init__(self, step: JobStep, limit_amps: float) -> None:
        self._step = step
        self._flows = FLOWS * limit_amps
        self._is_idle = not (step.celsius or step.amps_per_dm2)
        self._cold, self._thin = _Low(), _Low()

    def update(self, row: Sample | Gap, estimate: Estimate) -> list[Prompt]:
        """Take the next row and what it meant."""
        if self._is_idle:
            return []
        if isinstance(row, Gap) or row.amps is None or row.amps < self._flows:
            return []
        step, t_s = self._step, row.t_s
        outside = []
        celsius, density = estimate.celsius, estimate.heat.amps_per_dm2
        is_cold = self._cold.stands(t_s, celsius, step.celsius)
        if is_cold and celsius is not None and step.celsius is not None:
            outside.append(say.too_cold(celsius, step.celsius))
        is_thin = self._thin.stands(t_s, density, step.amps_per_dm2)
        if is_thin and density is not None and step.amps_per_dm2 is not None:
            outside.append(say.too_thin(density, step.amps_per_dm2))
        if not outside:
            return []
        message = say.outside_step_window(step.name, outside)
        return [Prompt(PromptName.OUTSIDE_STEP_WINDOW, row.seq, row.t_ns, message)]
