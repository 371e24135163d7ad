"""Rows and verdicts in, the events worth telling out: what `replay` and `record` print alike."""

from collections.abc import Iterator

from monitor.export.json_lines import (
    Line,
    alarm_line,
    explanation_line,
    forecast_line,
    prompt_line,
    summary_line,
)
from monitor.model.alarm import Change
from monitor.model.estimate import Charge
from monitor.model.sample import Gap, Sample
from monitor.watch.vigil import Verdict


class Telling:
    """Turns one run's rows into lines, and keeps the figures of its summary.

    Parameters
    ----------
    forecast_every_s
        Seconds between forecast lines; 0 gives one for every row, None none.
    """

    def __init__(self, forecast_every_s: float | None) -> None:
        self._forecast_every_s = forecast_every_s
        self._next_forecast_s: float | None = None
        self._samples = 0
        self._missing = 0
        self._alarms = 0
        self._first_s: float | None = None
        self._last_s = 0.0
        self._charge = Charge()

    def lines(self, row: Sample | Gap, verdict: Verdict) -> Iterator[Line]:
        """What one row gives to tell, alarms first."""
        if isinstance(row, Gap):
            self._missing += 1
        else:
            self._samples += 1
        if self._first_s is None:
            self._first_s = row.t_s
        self._last_s = row.t_s
        self._charge = verdict.estimate.charge
        for event in verdict.events:
            self._alarms += event.change is Change.RAISED
            yield alarm_line(event)
        if verdict.explanation is not None:
            yield explanation_line(verdict.explanation)
        for prompt in verdict.prompts:
            yield prompt_line(prompt)
        if self._is_forecast_due(row.t_s):
            yield forecast_line(verdict.estimate)

    def summary(self) -> Line:
        """The last line."""
        first_s = self._first_s if self._first_s is not None else 0.0
        return summary_line(
            self._samples, self._missing, self._last_s - first_s, self._charge, self._alarms
        )

    def _is_forecast_due(self, t_s: float) -> bool:
        if self._forecast_every_s is None:
            return False
        if self._next_forecast_s is not None and t_s < self._next_forecast_s:
            return False
        step = self._forecast_every_s
        # On a grid from the first row, so that a late row does not shift those after it.
        start = t_s if self._next_forecast_s is None else self._next_forecast_s
        missed = (t_s - start) // step if step > 0 else 0
        self._next_forecast_s = start + (missed + 1) * step
        return True
