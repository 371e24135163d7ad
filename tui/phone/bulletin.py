"""What the page shows, as plain values for its script: made of the same moments as the screens.

Every text of the run comes from here, ready to be shown; the script only puts it in its place.
"""

import math
from collections.abc import Sequence

from drivers.base.inert import inert
from monitor.alarms.catalogue import is_unknown
from monitor.model.alarm import RANK, Priority
from monitor.text.alarms import action_of, state_words
from monitor.text.limits import RULES
from monitor.text.numbers import DASHES, amps_text, figure, for_how_long, volts_text
from monitor.text.progress import progress_line
from monitor.text.rise import charge_line
from monitor.text.standing import NO_VIEW_TO_DO
from tui.moment import Moment
from tui.panels.chart import amps_range, live_window
from tui.panels.notes import SIGNS
from tui.panels.numbers import three_numbers
from tui.view import View, Window, is_hole

Facts = dict[str, object]

LONGEST = 200
"""Characters of one text: names, notes and messages may come from a stranger's store."""

UNKNOWN = "?"
CHART_COLUMNS = 160

FIXED: Facts = {"rules": RULES, "blind": NO_VIEW_TO_DO}
"""Texts that do not change while the page is open."""


def window_at(now_s: float) -> Window:
    """The past that the page's chart shows."""
    return live_window(now_s, None, CHART_COLUMNS, 1)


def worst_first(moments: Sequence[tuple[int, Moment]]) -> list[tuple[int, Moment]]:
    """Number and moment of each supply in the order in which the page shows them."""
    return sorted(moments, key=lambda pair: (pair[1].urgency, pair[0]))


def run_of(moment: Moment) -> int:
    """The number of the run that a moment shows; it must have a view."""
    assert moment.view is not None
    return moment.view.row.run


def bulletin(moments: Sequence[tuple[int, Moment]], local_time: str, trouble: str) -> Facts:
    """All supplies in this order; `trouble` says why the store cannot be read."""
    supplies = [_supply(number, moment) for number, moment in moments]
    return {"time": local_time, "trouble": inert(trouble, LONGEST), "supplies": supplies}


def chart_of(moment: Moment) -> Facts:
    """The chart of one supply: columns, the limit, and where the forecast meets it."""
    view = moment.view
    assert view is not None
    window, forecast = view.chart.window, moment.forecast
    bottom, top = amps_range(view)
    columns = [
        None
        if is_hole(column)
        else [_short(column.amps_low), _short(column.amps_high), _short(column.volts_mean)]
        for column in view.chart.columns
    ]
    facts: Facts = {
        "run": view.row.run,
        "from": _short(window.from_s),
        "step": window.column_s,
        "now": _short(moment.now_s),
        "columns": columns,
        "limit": view.row.facts.limit_amps,
        "bottom": _short(bottom),
        "top": _short(top),
    }
    if forecast is not None and forecast.trip_in_s is not None:
        facts["forecast"] = [
            _short(moment.forecast_amps),
            _short(forecast.trip_in_low_s or forecast.trip_in_s),
            _short(forecast.trip_in_s),
            _short(forecast.trip_in_high_s),
        ]
    return facts


def _supply(number: int, moment: Moment) -> Facts:
    view, at = moment.view, moment.standing
    assert view is not None
    facts, waiting = view.row.facts, moment.waiting
    first, _, rest = at.to_do.partition(". ")
    fills = waiting is not None and RANK[waiting.priority] <= RANK[Priority.HIGH]
    return {
        "run": view.row.run,
        "number": number,
        "name": inert(", ".join(part for part in (facts.supply, facts.bath) if part)),
        "job": inert(", ".join(_job(view))),
        "word": at.word,
        "why": inert(at.sentence, LONGEST),
        "act": inert(first.rstrip("."), LONGEST),
        "how": inert(rest, LONGEST),
        "rank": at.priority or ("asks" if at.asks else ""),
        "stale": _is_stale(moment),
        "ended": view.ended,
        "cells": [
            _amps(moment),
            _time(moment),
            _volts(moment),
            _strip(moment),
        ],
        "alarms": _alarms(moment),
        "badges": [inert(text, LONGEST) for text, _ in moment.badges],
        "waiting": "" if waiting is None else f"{waiting.alarm}#{waiting.occurrence}",
        "fills": fills,
    }


def _job(view: View) -> list[str]:
    card = view.card
    return [] if card is None else [part for part in (card.step, card.part) if part]


def _amps(moment: Moment) -> Facts:
    view = moment.view
    assert view is not None
    limit, sample, last = view.row.facts.limit_amps, moment.sample, view.last_sample
    amps = None if sample is None else _finite(sample.amps)
    cell = _measured("amps", "A", amps, f"limit {amps_text(limit)}")
    if amps is None and last is not None:
        cell["aside"] = f"last {amps_text(last.amps)}, {_ago(moment)}"
    # The bar ends a little beyond the limit, so that what is over it shows.
    cell["bar"] = None if amps is None else _share(amps / limit / 1.15)
    cell["mark"] = 1 / 1.15
    return cell


def _volts(moment: Moment) -> Facts:
    view = moment.view
    assert view is not None
    sample, last = moment.sample, view.last_sample
    volts = None if sample is None else _finite(sample.volts)
    cell = _measured("volts", "V", volts, "")
    if volts is None and last is not None:
        cell["aside"] = f"last {volts_text(last.volts)}, {_ago(moment)}"
    return cell


def _measured(label: str, unit: str, value: float | None, aside: str) -> Facts:
    shown = UNKNOWN if value is None else figure(value)
    return {"label": label, "figure": shown, "unit": unit, "aside": aside}


def _time(moment: Moment) -> Facts:
    """The time that counts now: to the cut-out, of cooling, of a hold."""
    _, _, time = three_numbers(moment)
    is_known = time.figure != DASHES
    return {
        "label": time.label,
        "figure": time.figure if is_known else UNKNOWN,
        "unit": time.unit,
        "aside": time.aside,
        "counts": is_known,
    }


def _strip(moment: Moment) -> Facts:
    """How far the strip is; the charge alone where nobody knows what the part takes."""
    view = moment.view
    assert view is not None
    estimate, need = view.estimate, view.need
    if estimate is None:
        return {"label": "strip", "figure": UNKNOWN, "unit": "%", "aside": ""}
    charge = estimate.charge
    share = None if need is None else need.progress(charge.amp_hours)
    if need is None or share is None:
        passed, _, unit = charge_line(charge).partition(" ")
        unit, _, aside = unit.partition(" ")
        cell: Facts = {
            "label": "charge",
            "figure": passed,
            "unit": unit,
            "aside": aside.strip("()"),
        }
        return _as_last(cell, moment) if _is_stale(moment) else cell
    amps = None if moment.sample is None else moment.sample.amps
    shown, _, aside = progress_line(need, charge, amps).partition(" % ")
    cell = {"label": "strip", "figure": shown, "unit": "%", "aside": aside}
    if _is_stale(moment):
        return _as_last(cell, moment)
    return cell | {"bar": _share(share / 1.15), "mark": 1 / 1.15}


def _is_stale(moment: Moment) -> bool:
    """Whether no figure may be shown as present, though the run goes on."""
    return moment.sample is None and not (moment.view is not None and moment.view.ended)


def _as_last(cell: Facts, moment: Moment) -> Facts:
    """An unknown figure, with the last one and its age."""
    return cell | {
        "figure": UNKNOWN,
        "aside": f"last {cell['figure']} {cell['unit']}, {_ago(moment)}",
    }


def _alarms(moment: Moment) -> list[Facts]:
    view = moment.view
    assert view is not None
    worst_first = sorted(view.alarms, key=lambda event: (RANK[event.priority], event.t_ns))
    return [
        {
            "sign": SIGNS[event.priority],
            "rank": event.priority,
            "name": inert(event.alarm).replace("-", " "),
            "message": inert(event.message, LONGEST),
            "state": state_words(event, is_unknown(event, view.alarms), moment.now_s),
            "action": ""
            if action_of(event) == moment.standing.to_do
            else inert(action_of(event), LONGEST),
        }
        for event in worst_first
    ]


def _ago(moment: Moment) -> str:
    view = moment.view
    if view is None or view.last_sample is None or view.ended:
        return "at the end"
    speed = view.row.facts.clock_speed
    return f"{for_how_long((moment.now_s - view.last_sample.t_s) / speed)} ago"


def _share(share: float) -> float:
    return round(min(max(share, 0.0), 1.0), 4)


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None


def _short(value: float | None) -> float | None:
    """For the wire: JSON knows neither infinity nor what is no number."""
    finite = _finite(value)
    return None if finite is None else round(finite, 3)
