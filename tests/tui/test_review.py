"""The review: the cursor, the zoom and the list, driven by keys."""

import pytest

from monitor.store.columns import Column
from tests.tui import pictures
from tests.tui.stage import StillSource, on_stage, settled, shown, strike, text_of, until
from tui.glyphs import ASCII
from tui.review import ReviewScreen

SIZE = (80, 24)
END_S = 1220.0


def reviewing() -> tuple[ReviewScreen, StillSource]:
    app, source, _ = on_stage(pictures.review(80, ASCII), ReviewScreen, ASCII)
    assert isinstance(app, ReviewScreen)
    return app, source


async def test_it_opens_on_the_whole_run_with_the_cursor_at_its_end() -> None:
    app, _ = reviewing()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        assert app.cursor_s == END_S
        window = app.window(80)
        assert window is not None
        assert (window.from_s, window.to_s, window.count) == (0.0, END_S, 73)
        assert "FINISHED: run ended after 20:20" in text_of(app)


async def test_the_cursor_goes_by_columns_and_leaps_and_stays_in_the_run() -> None:
    app, _ = reviewing()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, "left", "left")
        assert app.cursor_s == pytest.approx(END_S - 2 * END_S / 73)
        await strike(app, pilot, "pageup")
        assert app.cursor_s == pytest.approx(END_S - 2 * END_S / 73 - END_S / 10)
        await strike(app, pilot, "home", "left")
        assert app.cursor_s == 0.0
        await strike(app, pilot, "end", "right")
        assert app.cursor_s == END_S


async def test_up_and_down_go_from_event_to_event() -> None:
    app, _ = reviewing()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, "up")
        assert app.cursor_s == 1000.0
        await strike(app, pilot, "up", "up")
        assert app.cursor_s == 760.0
        await strike(app, pilot, "down")
        assert app.cursor_s == 880.0
        assert ">   14:40  high alarm trip-expected raised" in text_of(app)
        await strike(app, pilot, "home", "up")
        assert "nothing further that way" in text_of(app)


async def test_zooming_keeps_the_cursor_where_it_is_and_looks_up_finer_columns() -> None:
    app, source = reviewing()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, "up")
        looked = len(source.windows)
        await strike(app, pilot, "+")
        await until(pilot, lambda: len(source.windows) > looked, "finer columns")
        window = source.windows[-1]
        assert window.to_s - window.from_s == pytest.approx(END_S / 2)
        assert window.from_s < 1000.0 < window.to_s
        before = 1000.0 / END_S
        assert (1000.0 - window.from_s) / (END_S / 2) == pytest.approx(before)
        await strike(app, pilot, "-", "-", "-")
        whole = app.window(80)
        assert whole is not None
        assert (whole.from_s, whole.to_s) == (0.0, END_S)


async def test_zooming_in_ends_at_a_second_and_zero_shows_the_whole_run_again() -> None:
    app, _ = reviewing()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, "up", *["+"] * 30)
        window = app.window(80)
        assert window is not None
        assert window.to_s - window.from_s == pytest.approx(1.0)
        await strike(app, pilot, "0")
        window = app.window(80)
        assert window is not None
        assert window.to_s == END_S


async def test_a_cursor_that_leaves_the_window_takes_it_along() -> None:
    app, _ = reviewing()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, "+", "+", "home")
        window = app.window(80)
        assert window is not None
        assert (window.from_s, app.cursor_s) == (0.0, 0.0)
        assert window.to_s == pytest.approx(END_S / 4)


async def test_the_values_are_those_of_the_column_under_the_cursor() -> None:
    app, source = reviewing()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, "home")
        await strike(app, pilot, *["right"] * 20)
        column = source.view.chart.column_at(app.cursor_s or 0.0)
        assert isinstance(column, Column)
        assert column.amps_high is not None
        assert f"{column.amps_low:.2f} to {column.amps_high:.2f}" in text_of(app)


async def test_a_review_asks_nothing_whatever_is_pressed() -> None:
    app, source = reviewing()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, *"emnyxg/19", "space", "enter", "escape", "tab")
        await strike(app, pilot, "?")
        assert "zoom in at the cursor" in text_of(app)
        await strike(app, pilot, "q")
    assert source.asked == []
    assert pilot.app.return_code == 0
