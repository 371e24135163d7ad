"""What `replay` and `record` print of a run: its events and figures, as JSON Lines or as text.

Keys and their order are a contract with other programs; see docs/EXPORTS.md.
"""

import json
from collections.abc import Iterator, Mapping

from monitor.model.alarm import AlarmEvent, Change
from monitor.model.estimate import Charge, Estimate
from monitor.model.event import Prompt, PromptName
from monitor.model.explanation import Explanation
from monitor.model.sample import Gap, Sample
from monitor.model.volts_advice import VoltsAdvice
from monitor.text.alarms import action_of
from monitor.text.stops import order_line
from monitor.watch.vigil import Verdict

Line = Mapping[str, str | float | int | bool | None]

OF_ADVICE = (PromptName.TURN_DOWN, PromptName.TURNED_DOWN)
"""Prompts that say what an advice's own line does."""
DIGITS = 6
"""Decimals of seconds and amps: microseconds and microamps."""


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, DIGITS)


def _whole(value: float | None) -> int | None:
    return None if value is None else round(value)


def alarm_line(event: AlarmEvent) -> Line:
    """One change of one alarm."""
    return {
        "kind": "alarm",
        "t_s": _rounded(event.t_s),
        "alarm": event.alarm,
        "change": event.change.value,
        "state": event.state.value,
        "priority": event.priority.value,
        "trip_in_s": _rounded(event.trip_in_s),
        "trip_in_low_s": _rounded(event.trip_in_low_s),
        "trip_in_high_s": _rounded(event.trip_in_high_s),
        "message": event.message,
        "action": action_of(event),
    }


def forecast_line(estimate: Estimate) -> Line:
    """The forecast as it stands after one row."""
    forecast = estimate.forecast
    return {
        "kind": "forecast",
        "t_s": _rounded(estimate.t_s),
        "trip_in_s": _rounded(forecast.trip_in_s),
        "trip_in_low_s": _rounded(forecast.trip_in_low_s),
        "trip_in_high_s": _rounded(forecast.trip_in_high_s),
        "chance_within_horizon": _rounded(forecast.chance_within_horizon),
        "why": forecast.why,
    }


def prompt_line(prompt: Prompt) -> Line:
    """Something for the operator to do that is not an alarm."""
    return {
        "kind": "prompt",
        "t_s": _rounded(prompt.t_s),
        "prompt": prompt.prompt,
        "message": prompt.message,
    }


def advice_line(advice: VoltsAdvice) -> Line:
    """The volts to set, and by when; null where the advice before it stands no more."""
    return {
        "kind": "advice",
        "t_s": _rounded(advice.t_s),
        "volts": advice.volts,
        "act_within_s": _whole(advice.act_within_s),
        "finish_in_s": _whole(advice.finish_in_s),
        "pause_s": _whole(advice.pause_s),
        "message": advice.message,
    }


def explanation_line(explanation: Explanation) -> Line:
    """Why a strip stopped, and the order of events."""
    return {
        "kind": "explanation",
        "t_s": _rounded(explanation.t_ns / 1e9),
        "cause": explanation.cause.value,
        "message": explanation.why,
        "order": order_line(explanation.order),
    }


def summary_line(samples: int, missing: int, seconds: float, charge: Charge, alarms: int) -> Line:
    """The figures of a whole run; `samples` counts answered polls, `alarms` the raises."""
    return {
        "kind": "summary",
        "samples": samples,
        "missing": missing,
        "seconds": _rounded(seconds),
        "amp_hours": _rounded(charge.amp_hours),
        "amp_hours_low": _rounded(charge.amp_hours_low),
        "amp_hours_high": _rounded(charge.amp_hours_high),
        "coverage": _rounded(charge.coverage),
        "alarms": alarms,
    }


def as_text(line: Line) -> str:
    """A line as JSON, without its line end; NaN can never be in it.

    >>> as_text({"kind": "forecast", "trip_in_s": None})
    '{"kind":"forecast","trip_in_s":null}'
    """
    return json.dumps(line, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def _seconds(value: object) -> str:
    if not isinstance(value, int | float):
        return "over an hour"
    return f"{value:.0f} s" if value < 90 else f"{value / 60:.1f} min"


def _count(number: object, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def plain_line(line: Line) -> str:
    """One event in words.

    >>> plain_line({"kind": "alarm", "t_s": 812.4, "alarm": "tripped", "change": "raised",
    ...             "priority": "critical", "message": "the supply cut out"})
    '   812.4 s  ALARM tripped raised (critical): the supply cut out'
    >>> plain_line({"kind": "forecast", "t_s": 9.0, "trip_in_s": None, "why": "no rise"})
    '     9.0 s  no trip expected: no rise'
    """
    time = "" if line["kind"] == "summary" else f"{line['t_s']:8.1f} s  "
    match line["kind"]:
        case "alarm":
            event = f"{line['alarm']} {line['change']} ({line['priority']})"
            return f"{time}ALARM {event}: {line['message']}"
        case "prompt":
            return f"{time}{line['prompt']}: {line['message']}"
        case "advice":
            return f"{time}ADVICE: {line['message']}"
        case "explanation":
            return f"{time}what happened: {line['message']}\n{' ' * 12}in order: {line['order']}"
        case "forecast" if line["trip_in_s"] is None:
            return f"{time}no trip expected: {line['why']}"
        case "forecast":
            low, high = _seconds(line["trip_in_low_s"]), _seconds(line["trip_in_high_s"])
            return f"{time}trip in about {_seconds(line['trip_in_s'])} ({low} to {high})"
        case _:
            coverage = line["coverage"]
            share = f"{coverage:.1%}" if isinstance(coverage, int | float) else "nothing"
            return (
                f"{line['samples']} samples in {_seconds(line['seconds'])}, "
                f"{line['amp_hours']:.3f} Ah ({share} of the time recorded), "
                f"{_count(line['alarms'], 'alarm')}"
            )


class EventLines:
    """Turns a run's rows into lines, and keeps the figures of its summary.

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

    def lines(
        self, row: Sample | Gap, verdict: Verdict, has_forecast: bool = True
    ) -> Iterator[Line]:
        """The lines of one row, alarms first and the forecast last, if it may have one."""
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
        if verdict.advice is not None:
            yield advice_line(verdict.advice)
        for prompt in verdict.prompts:
            if prompt.prompt not in OF_ADVICE:
                yield prompt_line(prompt)
        if has_forecast and self._is_forecast_due(row.t_s):
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
