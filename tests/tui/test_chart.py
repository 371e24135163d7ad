"""The chart and the bar: what was measured survives, and what was not is not drawn."""

from dataclasses import replace

import pytest

from monitor.model.estimate import Forecast
from monitor.store.columns import Column
from tests.tui import pictures
from tui.glyphs import ASCII, BLOCK, BRAILLE, SETS, Glyphs
from tui.ink import Ink, plain, width_of
from tui.moment import Moment
from tui.panels.bar import amps_ahead, draw_bar
from tui.panels.chart import AXIS_WIDTH, PAST_SHARE, ROWS_BELOW, amps_range, draw_chart, live_window
from tui.raster import Layer, Raster
from tui.view import Chart, Window

ALL = list(SETS.values())
WIDTH, HEIGHT = 90, 14


def column(number: int, amps: float | None, high: float | None = None, gap: bool = False) -> Column:
    top = amps if high is None else high
    count = 0 if amps is None else 5
    return Column(
        float(number), float(number + 1), count, 0, 5 - count, gap, amps, top, amps, 6.0, 6.1, 6.0
    )


def showing(columns: list[Column], glyphs: Glyphs = ASCII) -> Moment:
    still = pictures.steady(WIDTH, glyphs)
    assert still.view is not None
    window = Window(0.0, float(len(columns)), len(columns))
    view = replace(still.view, estimate=None, chart=Chart(window, tuple(columns)))
    return replace(still, view=view, now_s=still.view.last.t_s if still.view.last else 0.0)


def traced(moment: Moment, cell: int) -> list[int]:
    """Rows in which the trace is drawn in this cell of the chart."""
    rows = []
    for number, line in enumerate(draw_chart(moment, WIDTH, HEIGHT)[:-ROWS_BELOW]):
        at = 0
        for text, ink in line:
            if at <= AXIS_WIDTH + cell < at + len(text):
                drawn = text[AXIS_WIDTH + cell - at]
                if ink is Ink.STRONG and drawn != " ":
                    rows.append(number)
            at += len(text)
    return rows


@pytest.mark.parametrize("glyphs", ALL, ids=lambda g: g.name)
def test_a_spike_of_one_sample_reaches_as_high_as_it_was(glyphs: Glyphs) -> None:
    count = (WIDTH - AXIS_WIDTH) * glyphs.across
    columns = [column(i, 6.0) for i in range(count)]
    at = 30 * glyphs.across
    columns[at] = column(at, 6.0, high=14.0)
    moment = showing(columns, glyphs)
    assert traced(moment, 30)[0] <= 1
    assert len(traced(moment, 20)) <= 2


@pytest.mark.parametrize("glyphs", ALL, ids=lambda g: g.name)
def test_a_stretch_without_answers_is_a_hole_and_is_shown_on_the_time_line(glyphs: Glyphs) -> None:
    count = (WIDTH - AXIS_WIDTH) * glyphs.across
    columns = [column(i, 6.0) for i in range(count)]
    for i in range(20 * glyphs.across, 30 * glyphs.across):
        columns[i] = column(i, None, gap=True)
    moment = showing(columns, glyphs)
    assert all(traced(moment, cell) == [] for cell in range(20, 30))
    assert traced(moment, 19)
    assert traced(moment, 30)
    line = plain(draw_chart(moment, WIDTH, HEIGHT)[-2])
    assert line[AXIS_WIDTH + 20 : AXIS_WIDTH + 30] == glyphs.shade * 10


def zoomed_in(missing: range = range(0)) -> Moment:
    """A chart so close that a poll comes only every 20 columns of 0.01 s."""
    columns = [
        column(i, 6.0 if i % 20 == 0 and i not in missing else None, gap=i in missing)
        for i in range(WIDTH - AXIS_WIDTH)
    ]
    moment = showing(columns)
    assert moment.view is not None
    window = Window(0.0, 0.01 * len(columns), len(columns))
    return replace(moment, view=replace(moment.view, chart=Chart(window, tuple(columns))))


def test_between_two_polls_the_trace_goes_on() -> None:
    assert traced(zoomed_in(), 30)


def test_the_last_moment_belongs_to_the_last_column() -> None:
    still = pictures.review(80, ASCII).view
    assert still is not None
    assert still.chart.column_at(still.chart.window.to_s) is still.chart.columns[-1]
    assert still.chart.column_at(still.chart.window.to_s + 0.1) is None
    assert still.chart.column_at(still.chart.window.from_s - 0.1) is None


def test_over_one_missed_poll_it_does_not() -> None:
    moment = zoomed_in(range(40, 41))
    assert traced(moment, 10)
    assert traced(moment, 30) == traced(moment, 50) == []
    assert traced(moment, 70)


@pytest.mark.parametrize("glyphs", ALL, ids=lambda g: g.name)
def test_the_limit_is_a_line_with_its_value(glyphs: Glyphs) -> None:
    lines = [plain(line) for line in draw_chart(pictures.steady(WIDTH, glyphs), WIDTH, HEIGHT)]
    at_limit = next(line for line in lines if line.strip().startswith("10.0"))
    assert at_limit[AXIS_WIDTH:].strip(" ").count(at_limit[-1]) == WIDTH - AXIS_WIDTH
    assert any(line.strip().startswith("limit") for line in lines)


def test_a_live_chart_never_cuts_off_what_is_high() -> None:
    columns = [column(i, 6.0, high=60.0 if i == 3 else 6.1) for i in range(50)]
    view = showing(columns).view
    assert view is not None
    assert amps_range(view)[1] >= 60.0


def test_dips_of_a_swab_lie_on_the_edge_and_the_edge_says_so() -> None:
    columns = [column(i, 0.1 if i % 25 == 0 else 8.0, high=8.1) for i in range(83)]
    moment = showing(columns)
    assert moment.view is not None
    assert amps_range(moment.view)[0] == pytest.approx(7.0)
    assert amps_range(moment.view, whole=True)[0] == 0.0
    lines = [plain(line) for line in draw_chart(moment, WIDTH, HEIGHT)]
    assert any(line.startswith(" <7.00") for line in lines)


def test_a_window_moves_by_whole_columns_so_that_the_chart_does_not_shimmer() -> None:
    a, b = live_window(900.0, None, 120, 2), live_window(900.4, None, 120, 2)
    assert a.column_s == b.column_s
    shift = (b.from_s - a.from_s) / a.column_s
    assert shift == pytest.approx(round(shift))


@pytest.mark.parametrize("now_s", [0.0, 1.0, 119.0, 600.0, 601.0, 90_000.0])
@pytest.mark.parametrize("width", [1, 8, 40, 80, 300])
def test_a_live_window_holds_the_present(now_s: float, width: int) -> None:
    window = live_window(now_s, None, width, 2)
    assert window.from_s >= 0.0
    assert window.from_s <= now_s <= window.to_s + 1e-6
    assert window.count == max(int((width - AXIS_WIDTH) * 2 * PAST_SHARE), 1)


def test_marks_and_alarms_stand_on_the_time_line() -> None:
    line = plain(draw_chart(pictures.rising(120), 120, HEIGHT)[-2])
    assert [char for char in line if char in "12!"] == ["1", "2", "!"]


def test_the_forecast_widens_towards_the_limit_line() -> None:
    moment = pictures.rising(120, ASCII)
    lines = draw_chart(moment, 120, 40)[:-ROWS_BELOW]
    shade = [[i for i, char in enumerate(plain(line)) if char in ":+"] for line in lines]
    drawn = [cells for cells in shade if cells]
    assert drawn
    # The nearer to the limit (higher rows), the wider the time that the band spans.
    assert max(drawn[0]) - min(drawn[0]) > max(drawn[-1]) - min(drawn[-1])


def test_no_forecast_is_drawn_from_stale_values() -> None:
    stale = pictures.stopped(120, ASCII)
    assert ":" not in "".join(plain(line) for line in draw_chart(stale, 120, 20)[:-ROWS_BELOW])


def test_the_bar_shows_the_range_in_one_minute_against_the_limit() -> None:
    # By hand: 9.35 A now; the 10 % point meets 10 A in 72 s, the 90 % point in 205 s. After 60 s
    # 60/72 and 60/205 of the 0.65 A to go are gone.
    ahead = amps_ahead(pictures.rising())
    assert ahead is not None
    assert ahead[0] == pytest.approx(9.35 + 0.65 * 60 / 205)
    assert ahead[1] == pytest.approx(9.35 + 0.65 * 60 / 72)


def test_a_trip_within_the_minute_reads_as_at_the_limit_or_over() -> None:
    still = pictures.rising(120, ASCII)
    assert still.view is not None
    assert still.view.estimate is not None
    soon = Forecast(20.0, 8.0, 45.0, chance_within_horizon=0.99)
    view = replace(still.view, estimate=still.view.estimate._replace(forecast=soon))
    words = plain(draw_bar(replace(still, view=view), 120, 2)[-1])
    assert "in 1 min 10.0 A or over" in words


@pytest.mark.parametrize("make", pictures.LIVE.values(), ids=list(pictures.LIVE))
@pytest.mark.parametrize("width", [0, 1, 5, 12, 60, 200])
@pytest.mark.parametrize("height", [0, 1, 2, 3, 9])
def test_chart_and_bar_fill_their_room_exactly(make: object, width: int, height: int) -> None:
    assert callable(make)
    moment = make(120, BLOCK)
    for lines in (draw_chart(moment, width, height), draw_bar(moment, width, height)):
        assert len(lines) == height
        assert all(width_of(line) == width for line in lines)


def test_points_off_the_paper_are_left_out() -> None:
    raster = Raster(2, 1, BRAILLE, {Layer.TRACE: Ink.PLAIN})
    for x, y in ((-1, 0), (4, 0), (0, -1), (0, 4)):
        raster.dot(x, y, Layer.TRACE)
    assert plain(raster.lines()[0]) == "  "


def test_braille_points_stand_where_unicode_says() -> None:
    # Dot numbers of a braille cell, Unicode block 2800: left column 1 2 3 7, right 4 5 6 8.
    raster = Raster(1, 1, BRAILLE, {Layer.TRACE: Ink.PLAIN})
    raster.dot(0, 0, Layer.TRACE)
    raster.dot(1, 3, Layer.TRACE)
    assert plain(raster.lines()[0]) == "\N{BRAILLE PATTERN DOTS-18}"
