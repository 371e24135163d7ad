"""Events and figures in, JSON Lines out: what `replay` and `record --json` print, as dictionaries.

Keys and their order are a contract with other programs; see docs/EXPORTS.md.
"""

import json
from collections.abc import Mapping

from monitor.model.alarm import AlarmEvent
from monitor.model.estimate import Charge, Estimate
from monitor.model.event import Prompt
from monitor.model.explanation import Explanation
from monitor.text.alarms import action_of
from monitor.text.stops import order_line

Line = Mapping[str, str | float | int | bool | None]

DIGITS = 6
"""Decimals of seconds and amps: microseconds and microamps."""


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, DIGITS)


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
