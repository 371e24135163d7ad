"""The amps over time: lowest and highest of every column, holes, the limit, and the forecast.

The forecast is a band that widens from now to where the 10 % and the 90 % point of the time to
the trip meet the limit, with the median in its middle. Below stands a time line with marks,
alarms and stretches without data.
"""

from dataclasses import dataclass
from math import floor

from monitor.base.moments import clock
from monitor.model.alarm import Change
from monitor.store.columns import Column
from monitor.text.numbers import figure
from tui.ink import Ink, Line, fit, fit_all, text_ink
from tui.moment import Moment
from tui.raster import Layer, Raster
from tui.view import View, Window, is_hole

AXIS_WIDTH = 7
ROWS_BELOW = 2
PAST_SHARE = 0.75
SPANS_S = (60, 120, 300, 600, 1200, 1800, 3600, 7200, 14400, 28800, 86400, 259200, 864000, 2592000)
"""Lengths of the past that a live chart can show."""
LONGEST_UNASKED_S = 600
STEPS_S = (5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 43200, 86400, 604800)


def live_window(now_s: float, span_s: float | None, width: int, across: int) -> Window:
    """The past that a live chart of this width shows, on a grid that does not shimmer.

    `span_s` is what the operator chose; None lets it grow with the run up to ten minutes.
    """
    if span_s is None:
        span_s = next((s for s in SPANS_S[1:] if s >= now_s), LONGEST_UNASKED_S)
        span_s = min(span_s, LONGEST_UNASKED_S)
    count = max(int((width - AXIS_WIDTH) * across * PAST_SHARE), 1)
    column_s = span_s / count
    newest = int(max(now_s, 0.0) / column_s) + 1
    first = max(newest - count, 0)
    return Window(first * column_s, (first + count) * column_s, count)


def amps_range(view: View, whole: bool = False) -> tuple[float, float]:
    """Amps at the chart's lower and upper edge, in tenths of the limit.

    Nothing above is ever cut off. Below, a live chart comes close to the data, so that a slow
    creep shows (the bar counts from nothing): what is under nine tenths of it lies on the edge.
    A `whole` chart cuts nothing off.
    """
    limit = view.row.facts.limit_amps
    lows = sorted(c.amps_low for c in view.chart.columns if c.amps_low is not None)
    highs = [c.amps_high for c in view.chart.columns if c.amps_high is not None]
    low = lows[0 if whole else len(lows) // 10] if lows else 0.0
    bottom = min(floor(low / limit * 10.0 - 0.5), 7) / 10.0 * limit
    if -0.1 * limit <= bottom < 0.4 * limit:
        bottom = min(floor(lows[0] / limit * 10.0), 0) / 10.0 * limit if lows else 0.0
    return bottom, max([limit * 1.1, *(high * 1.05 for high in highs)])


def draw_chart(moment: Moment, width: int, height: int) -> list[Line]:
    """The chart with its axes in this room."""
    view = moment.view
    rows = height - ROWS_BELOW
    if view is None or rows < 2 or width < AXIS_WIDTH + 8:
        return fit_all([], width, height)
    inks = {
        Layer.BAND: text_ink(moment.standing.priority),
        Layer.MEDIAN: text_ink(moment.standing.priority),
        Layer.LIMIT: Ink.PLAIN,
        Layer.TRACE: Ink.STRONG,
        Layer.CURSOR: Ink.PLAIN,
    }
    raster = Raster(width - AXIS_WIDTH, rows, moment.glyphs, inks)
    paper = _Paper(raster, view, moment, *amps_range(view, moment.cursor_s is not None))
    paper.draw_limit()
    paper.draw_forecast()
    paper.draw_trace()
    paper.draw_cursor()
    labels = paper.amps_labels()
    lines = [
        ((f"{labels.get(row, ''):>{AXIS_WIDTH - 1}} ", Ink.PLAIN), *line)
        for row, line in enumerate(raster.lines())
    ]
    lines += [paper.time_line(), paper.time_labels()]
    return fit_all(lines, width, height)


@dataclass(frozen=True, slots=True)
class _Paper:
    raster: Raster
    view: View
    moment: Moment
    bottom_amps: float
    top_amps: float

    @property
    def window(self) -> Window:
        return self.view.chart.window

    def x(self, t_s: float) -> int:
        return int((t_s - self.window.from_s) // self.window.column_s)

    def y(self, amps: float) -> int:
        last = self.raster.points_down - 1
        share = (self.top_amps - max(amps, self.bottom_amps)) / (self.top_amps - self.bottom_amps)
        return round(share * last)

    def draw_limit(self) -> None:
        y = self.y(self.view.row.facts.limit_amps)
        for x in range(self.raster.points_across):
            self.raster.dot(x, y, Layer.LIMIT)

    def draw_trace(self) -> None:
        longest_step = 2.5 * self.view.row.facts.poll_s / self.window.column_s
        before: tuple[int, Column] | None = None
        for x, column in enumerate(self.view.chart.columns):
            if column.amps_low is None or column.amps_high is None:
                before = None if is_hole(column) else before
                continue
            low, high = column.amps_low, column.amps_high
            if before is not None and x - before[0] <= max(longest_step, 1.0):
                old = before[1]
                low = min(low, low if old.amps_high is None else old.amps_high)
                high = max(high, high if old.amps_low is None else old.amps_low)
                for between in range(before[0] + 1, x):
                    self.raster.dot(between, self.y(low), Layer.TRACE)
            self.raster.upright(x, self.y(high), self.y(low), Layer.TRACE)
            before = (x, column)

    def draw_forecast(self) -> None:
        forecast, start = self.moment.forecast, self.moment.forecast_amps
        if forecast is None or forecast.trip_in_s is None or start is None:
            return
        limit = self.view.row.facts.limit_amps
        start = min(start, limit)
        soon_s = forecast.trip_in_low_s or forecast.trip_in_s
        now_s = self.moment.now_s
        for x in range(self.x(now_s) + 1, self.raster.points_across):
            ahead_s = (x + 0.5) * self.window.column_s + self.window.from_s - now_s
            if forecast.trip_in_high_s is not None and ahead_s > forecast.trip_in_high_s:
                break
            high = _on_the_way(start, limit, ahead_s, soon_s)
            low = _on_the_way(start, limit, ahead_s, forecast.trip_in_high_s)
            middle = self.y(_on_the_way(start, limit, ahead_s, forecast.trip_in_s))
            for y in range(self.y(high), self.y(low) + 1):
                if (x + y) % 2 == 0:
                    self.raster.dot(x, y, Layer.BAND)
            if ahead_s <= forecast.trip_in_s:
                self.raster.dot(x, middle, Layer.MEDIAN)

    def draw_cursor(self) -> None:
        if self.moment.cursor_s is not None:
            x = self.x(self.moment.cursor_s)
            self.raster.upright(x, 0, self.raster.points_down - 1, Layer.CURSOR)

    def amps_labels(self) -> dict[int, str]:
        limit, down = self.view.row.facts.limit_amps, self.moment.glyphs.down
        middle = (self.bottom_amps + limit) / 2.0
        lows = [c.amps_low for c in self.view.chart.columns if c.amps_low is not None]
        under = "<" if min(lows, default=self.bottom_amps) < self.bottom_amps else ""
        labels = {self.y(middle) // down: figure(middle)}
        labels[self.y(self.bottom_amps) // down] = under + figure(self.bottom_amps)
        if self.top_amps > limit * 1.4:
            labels[0] = figure(self.top_amps)
        row = self.y(limit) // down
        labels[row] = figure(limit)
        labels.setdefault(row - 1 if row > 0 else row + 1, "limit")
        return labels

    def time_line(self) -> Line:
        glyphs = self.moment.glyphs
        chars = [glyphs.rule] * self.raster.width
        bold: set[int] = set()
        for cell in range(self.raster.width):
            first = cell * glyphs.across
            group = self.view.chart.columns[first : first + glyphs.across]
            if any(is_hole(column) for column in group):
                chars[cell] = glyphs.shade
        for t_s, char in self._events():
            cell = self.x(t_s) // glyphs.across
            if 0 <= cell < len(chars):
                chars[cell] = char
                bold.add(cell)
        pieces = [(c, Ink.STRONG if i in bold else Ink.PLAIN) for i, c in enumerate(chars)]
        return ((" " * AXIS_WIDTH, Ink.PLAIN), *pieces)

    def _events(self) -> list[tuple[float, str]]:
        """Those within the window: a long run may have thousands."""
        from_ns, to_ns = (round(1e9 * end_s) for end_s in (self.window.from_s, self.window.to_s))
        marks = [
            (mark.t_ns / 1e9, str(mark.number % 10))
            for mark in self.view.marks
            if from_ns <= mark.t_ns <= to_ns
        ]
        raises = [
            (event.t_s, "!")
            for event in self.view.events
            if event.change is Change.RAISED and from_ns <= event.t_ns <= to_ns
        ]
        return marks + raises

    def time_labels(self) -> Line:
        window, across = self.window, self.moment.glyphs.across
        cell_s = window.column_s * across
        step = next((s for s in STEPS_S if s >= 14 * cell_s), STEPS_S[-1])
        live = self.moment.cursor_s is None and not self.view.ended
        origin = self.moment.now_s if live else 0.0
        end_s = window.from_s + self.raster.width * cell_s
        row = [" "] * self.raster.width
        first = int((window.from_s - origin) // step)
        for count in range(first, int((end_s - origin) // step) + 1):
            text = _relative(count * step, step) if live else clock(count * step)
            cell = int((origin + count * step - window.from_s) / cell_s)
            if cell >= 0 and origin + count * step >= 0.0 and cell + len(text) <= len(row):
                row[cell : cell + len(text)] = text
        return fit(((" " * AXIS_WIDTH + "".join(row), Ink.PLAIN),), self.raster.width + AXIS_WIDTH)


def _on_the_way(start: float, limit: float, ahead_s: float, trip_in_s: float | None) -> float:
    """Amps `ahead_s` from now on a straight way that meets the limit at `trip_in_s`."""
    if trip_in_s is None:
        return start
    if ahead_s >= trip_in_s:
        return limit
    return start + (limit - start) * ahead_s / trip_in_s


def _relative(seconds: float, step: float) -> str:
    if seconds == 0:
        return "now"
    sign = "+" if seconds > 0 else "-"
    if step >= 3600:
        return f"{sign}{abs(seconds) / 3600:g} h"
    if step >= 60:
        return f"{sign}{abs(seconds) / 60:g} min"
    return f"{sign}{abs(seconds):g} s"
