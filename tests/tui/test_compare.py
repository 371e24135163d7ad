"""Two to six runs side by side: never more, each with its chart, and every difference told."""

from dataclasses import replace

import pytest

from tests.tui import pictures, scenes
from tests.tui.stage import StillClock, StillSource, settled, shown, strike, text_of
from tui.compare import CompareScreen
from tui.glyphs import ASCII, BRAILLE
from tui.ink import plain, width_of
from tui.moment import Moment
from tui.panels.compare import draw_compare, span_s
from tui.run_list import RunListScreen
from tui.side_by_side import MOST, Side


def six_sides() -> list[Side]:
    cards = (scenes.HANDLEBAR, scenes.BELL, scenes.BRACKET)
    return [
        scenes.side(number, 600.0 + 100 * number, None, cards[number % 3], 50.0 * number)
        for number in range(1, MOST + 1)
    ]


async def test_a_seventh_run_is_not_picked() -> None:
    first = scenes.entries()[0]
    many = tuple(replace(first, row=replace(first.row, run=run)) for run in range(9, 0, -1))
    moment = scenes.reviewed(80, ASCII)
    assert moment.view is not None
    archive = scenes.StillArchive(many, StillSource(moment.view))
    screen = RunListScreen(archive, StillClock(0.0), pictures.BOOT, ASCII)
    async with shown(screen, (80, 24)) as pilot:
        await settled(screen, pilot)
        await strike(screen, pilot, *["space", "down"] * MOST)
        assert "picked: 6" in text_of(screen)
        await strike(screen, pilot, "space")
        assert "6 runs are the most that can be compared" in text_of(screen)
        assert "picked: 6" in text_of(screen)


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)], ids=str)
@pytest.mark.parametrize("count", [2, 3, 6])
def test_every_run_has_its_name_its_chart_and_its_column(size: tuple[int, int], count: int) -> None:
    sides = six_sides()[:count]
    lines = draw_compare(sides, None, Moment(None, glyphs=BRAILLE), *size)
    assert (len(lines), {width_of(line) for line in lines}) == (size[1], {size[0]})
    text = "\n".join(map(plain, lines))
    for side in sides:
        assert f" run {side.row.run}  bench-1" in text
        assert text.count(f"run {side.row.run}") == 2  # over its chart and over its column
    assert sum("\u2800" <= char <= "\u28ff" for char in text) > 20 * count


def test_aligned_on_a_mark_the_mark_lies_at_nothing_for_all() -> None:
    sides = six_sides()
    assert span_s(sides, None) == (0.0, 1200.0)
    assert span_s(sides, 1) == (-300.0, 900.0)


def test_where_room_is_short_what_agrees_is_one_row_and_what_differs_stays() -> None:
    sides = six_sides()[:2]
    text = "\n".join(map(plain, draw_compare(sides, None, Moment(None, glyphs=ASCII), 80, 24)))
    assert "* lasted" in text
    assert "alike: " in text
    assert "coverage 99.8 %" in " ".join(text.split())


async def test_runs_without_a_mark_cannot_be_aligned_on_one() -> None:
    bare = tuple(replace(side, marks=()) for side in six_sides()[:2])
    screen = CompareScreen(scenes.StillSides(bare), StillClock(0.0), ASCII)
    async with shown(screen, (80, 24)) as pilot:
        await settled(screen, pilot)
        await strike(screen, pilot, "a")
        assert "none of these runs has a mark" in text_of(screen)
        assert screen.mark is None
