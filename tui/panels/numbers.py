"""The three numbers: volts, amps, and the time to the trip (or what stands in its place)."""

from dataclasses import dataclass
from math import ceil

from monitor.base.moments import clock
from monitor.model.alarm import AlarmName
from monitor.model.run import LimitKind
from monitor.store.columns import Column
from monitor.text.numbers import (
    DASHES,
    ahead,
    amps_text,
    figure,
    for_how_long,
    trip_range,
    volts_text,
)
from monitor.text.standing import StateWord
from tui.font import can_draw, largest, letter, rows_of
from tui.ink import Ink, Line, beside, fit, fit_all, text_ink
from tui.moment import Moment
from tui.view import View

UNITS = {"s": "sec"}
"""A lone big S reads as a 5."""


@dataclass(frozen=True, slots=True)
class Number:
    """One of the three: what it is called, the figure, its unit, and what goes with it."""

    label: str
    figure: str
    unit: str
    ink: Ink
    aside: str = ""

    @property
    def text(self) -> str:
        """In one line."""
        return f"{self.figure} {self.unit}".strip()

    @property
    def heading(self) -> str:
        """What stands over the big figure."""
        return f"{self.label} ({self.aside})" if self.aside else self.label


def three_numbers(moment: Moment) -> tuple[Number, Number, Number]:
    """Volts, amps and time, as they may be shown now."""
    volts, amps = _measured(moment)
    return (volts, amps, _time(moment))


def draw_numbers(moment: Moment, width: int, scale: int) -> list[Line]:
    """A row of labels over a row of big figures of this scale, in three parts of the width."""
    numbers = three_numbers(moment)
    part = width // 3
    height = rows_of(scale)
    rows: list[Line] = [()] * (height + 1)
    for index, number in enumerate(numbers):
        block = [((number.heading, Ink.PLAIN),), *_big(number, part - 2, scale, moment)]
        cell = fit_all([((" ", Ink.PLAIN), *line) for line in block], part, height + 1)
        rows = beside(rows, cell, part * index, part * (index + 1)) if index else cell
    return fit_all(rows, width, height + 1)


def can_draw_numbers(moment: Moment, width: int, scale: int) -> bool:
    """Whether all three fit at this scale."""
    return can_draw(scale, moment.glyphs) and all(
        _width(number, scale, moment) <= width // 3 - 2 for number in three_numbers(moment)
    )


def draw_one_big(moment: Moment, width: int) -> list[Line]:
    """Amps in big letters with volts and time beside them, where three would not fit."""
    volts, amps, time = three_numbers(moment)
    scale = 1 if can_draw(1, moment.glyphs) else 2
    big = _big(amps, width - 20, scale, moment)
    left = max((sum(len(text) for text, _ in line) for line in big), default=0) + 4
    is_old = amps.figure == DASHES
    notes: list[Line] = [
        ((volts.label if is_old else volts.text, volts.ink),),
        ((time.label, Ink.PLAIN),),
        ((time.text, time.ink), (f" ({time.aside})" if time.aside else "", Ink.PLAIN)),
        ((amps.label if is_old else amps.aside, Ink.PLAIN),),
    ]
    return beside([((" ", Ink.PLAIN), *line) for line in big], notes, left, width)


def numbers_line(moment: Moment, width: int) -> Line:
    """All three in one plain row."""
    volts, amps, time = three_numbers(moment)
    pieces: Line = (
        (f" {amps.text}", amps.ink),
        (f"  {volts.text}", volts.ink),
        (f"  {time.label} ", Ink.PLAIN),
        (time.text, time.ink),
    )
    return fit(pieces, width)


def _measured(moment: Moment) -> tuple[Number, Number]:
    view, sample = moment.view, moment.sample
    if moment.cursor_s is not None and view is not None:
        return _at_cursor(moment.cursor_s, view)
    if view is None:
        return Number("volts", DASHES, "V", Ink.PLAIN), Number("amps", DASHES, "A", Ink.PLAIN)
    if sample is None:
        old = view.last_sample
        if old is None or view.ended:
            labels = ("volts", "amps")
        else:
            ago = f"{for_how_long(moment.now_s - old.t_s)} ago"
            labels = (f"last {volts_text(old.volts)} {ago}", f"last {amps_text(old.amps)} {ago}")
        return Number(labels[0], DASHES, "V", Ink.PLAIN), Number(labels[1], DASHES, "A", Ink.PLAIN)
    ink = text_ink(moment.standing.priority)
    does = view.row.facts.limit_kind.value
    limit = f"{does} at {figure(view.row.facts.limit_amps)}"
    return (
        Number("volts", figure(sample.volts), "V", Ink.STRONG),
        Number("amps", figure(sample.amps), "A", ink, limit),
    )


def _at_cursor(cursor_s: float, view: View) -> tuple[Number, Number]:
    column = view.chart.column_at(cursor_s) or Column(cursor_s, cursor_s)
    return (
        Number(
            "volts",
            figure(column.volts_high),
            "V",
            Ink.STRONG,
            _spread(column.volts_low, column.volts_high),
        ),
        Number(
            "amps",
            figure(column.amps_high),
            "A",
            Ink.STRONG,
            _spread(column.amps_low, column.amps_high),
        ),
    )


def _spread(low: float | None, high: float | None) -> str:
    return "" if figure(low) == figure(high) else f"{figure(low)} to {figure(high)}"


def _time(moment: Moment) -> Number:
    view, at = moment.view, moment.standing
    if view is None:
        return Number("", DASHES, "", Ink.PLAIN)
    if moment.cursor_s is not None:
        return Number("time at cursor", clock(moment.cursor_s), "", Ink.STRONG)
    what = "trip" if view.row.facts.limit_kind is LimitKind.TRIPS else "limit"
    if view.ended:
        length = DASHES if view.end_s is None else clock(view.end_s)
        return Number("the run lasted", length, "", Ink.PLAIN)
    if not at.fresh:
        return Number(f"{what} in", DASHES, "", Ink.PLAIN)
    if at.word is StateWord.CUT_OUT:
        since = [e.t_s for e in view.alarms if e.alarm == AlarmName.TRIPPED]
        cooling = clock(moment.now_s - since[-1]) if since else DASHES
        return Number("cooling for", cooling, "", text_ink(at.priority))
    if at.word is StateWord.LIMITED:
        since = [e.t_s for e in view.alarms if e.alarm == AlarmName.CURRENT_LIMITED]
        held = clock(moment.now_s - since[-1]) if since else "NOW"
        return Number(
            "at the limit for" if since else "at the limit", held, "", text_ink(at.priority)
        )
    if at.word is StateWord.OFF:
        return Number(f"{what} in", DASHES, "", Ink.PLAIN)
    left_s = moment.hold_left_s if at.word is StateWord.HOLD else None
    if left_s is not None:
        return Number("keep on for", f"{ceil(left_s)}", "sec", Ink.STRONG)
    forecast = moment.forecast
    if forecast is None or forecast.trip_in_s is None:
        why = None if view.estimate is None else view.estimate.forecast.why
        if moment.beneath.word is StateWord.STEADY:
            return Number(f"{what} expected", "NO", "", Ink.PLAIN)
        return Number(f"{what} in", DASHES, "", Ink.PLAIN, why or "not known")
    value, _, unit = ahead(forecast.trip_in_s).rpartition(" ")
    spread = trip_range(forecast.trip_in_low_s, forecast.trip_in_s, forecast.trip_in_high_s)
    spread += f" {unit}" if spread and spread[-1].isdigit() else ""
    value = value.replace("under 10", "<10")
    return Number(f"{what} in", value, UNITS.get(unit, unit), text_ink(at.priority), spread)


def _big(number: Number, width: int, scale: int, moment: Moment) -> list[Line]:
    if _width(number, scale, moment) > width:
        return [(), ((number.text, number.ink),)]
    digits = letter(number.figure, scale, moment.glyphs)
    room = width - digits.width - 6
    # Beside its figure a lone V or A needs no size; sec and min must not be confused.
    height = rows_of(scale) - 1 if len(number.unit) > 1 else 0
    unit = largest(number.unit, room, height, (1,), moment.glyphs)
    unit_rows = unit.rows or ((number.unit,) if number.unit else ())
    above = len(digits.rows) - len(unit_rows)
    lines: list[Line] = []
    for index, row in enumerate(digits.rows):
        tail = unit_rows[index - above] if index >= above else ""
        lines.append(((row + "  " + tail, number.ink),))
    return lines


def _width(number: Number, scale: int, moment: Moment) -> int:
    return letter(number.figure, scale, moment.glyphs).width + 2 + len(number.unit)
