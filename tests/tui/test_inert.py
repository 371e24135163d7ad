"""Whatever text a supply, a user or a stranger's store holds, every screen shows it harmlessly."""

from dataclasses import fields, is_dataclass, replace
from enum import Enum
from typing import TypeVar, cast

import pytest

from monitor.model.event import Status
from tests.tui import pictures, scenes
from tests.tui.bench import four_supplies
from tests.tui.stage import settled, shown, text_of
from tui.form import Form, Row
from tui.glyphs import ASCII, SETS, GlyphName, Glyphs
from tui.ink import Line, plain, width_of
from tui.moment import Moment
from tui.page import draw_live, draw_review
from tui.panels.card import draw_card
from tui.panels.compare import draw_compare
from tui.panels.overview import draw_overview
from tui.panels.runs import draw_runs

T = TypeVar("T")
NASTY = (
    "a\x1b[2J\x1b]52;c;cm0=\x07\x00\r\n\x9b31m\x7f\u202e\u2066[/b][red]\u200b浴\ud800"
    + "x" * 10_000
)
"""Clearing, the clipboard (OSC 52), controls, directions, markup, a lone surrogate, and length."""
SIZES = [(120, 40), (80, 24), (40, 12), (20, 4)]


def spoilt(value: T) -> T:
    """The same with every text in it replaced; names that others are looked up by stay."""
    if isinstance(value, str) and not isinstance(value, Enum):
        return cast(T, NASTY)
    if isinstance(value, tuple):
        spoilt_ones = [spoilt(one) for one in value]
        make = getattr(type(value), "_make", tuple)
        return cast(T, make(spoilt_ones))
    if isinstance(value, dict):
        return cast(T, {name: spoilt(one) for name, one in value.items()})
    if is_dataclass(value) and not isinstance(value, type):
        changed = {
            field.name: spoilt(getattr(value, field.name))
            for field in fields(value)
            if field.init and field.name != "settings"
        }
        return cast(T, replace(value, **changed))
    return value


def is_harmless(lines: list[Line], glyphs: Glyphs, width: int, height: int) -> bool:
    text = "".join(plain(glyphs.line(line, width)) for line in lines)
    assert len(lines) == height
    assert {width_of(line) for line in lines} == {width}
    assert text.isascii() or glyphs.name is not GlyphName.ASCII
    return text.isprintable()


async def test_a_screen_in_plain_ascii_stays_so_whatever_it_is_told() -> None:
    moment = scenes.twice_cut_out(80, ASCII)
    screen, source = scenes.live_screen(moment)
    source.view = spoilt(source.view)
    async with shown(screen, (80, 24)) as pilot:
        await settled(screen, pilot)
        text = text_of(screen)
        assert text.isascii()
        assert {len(line) for line in text.split("\n")} == {80}
        assert "<1B>[2J" in text


@pytest.mark.parametrize("glyphs", SETS.values(), ids=lambda one: one.name)
@pytest.mark.parametrize("size", SIZES, ids=str)
def test_no_text_of_others_moves_anything(size: tuple[int, int], glyphs: Glyphs) -> None:
    width = size[0]
    whole = Moment(None, local_time="11:18:24", glyphs=glyphs)
    makes = (
        *pictures.LIVE.values(), scenes.twice_cut_out, scenes.finishing, scenes.holding,
        scenes.shelved, scenes.badged,
    )  # fmt: skip
    for make in makes:
        moment = make(width, glyphs)
        assert moment.view is not None
        view = spoilt(moment.view)
        statuses = {"x": Status("x", 0, NASTY, is_well=False)}
        live = replace(moment, view=replace(view, statuses=statuses))
        assert is_harmless(draw_live(live, *size), glyphs, *size)
    reviewed = scenes.reviewed(width, glyphs)
    assert reviewed.view is not None
    review = replace(reviewed, view=spoilt(reviewed.view))
    assert is_harmless(draw_review(review, *size), glyphs, *size)
    assert is_harmless(draw_review(replace(review, story_is_open=True), *size), glyphs, *size)
    views = [spoilt(view) for view in four_supplies()]
    moments = [(number, Moment(view, 1000.0, glyphs=glyphs)) for number, view in enumerate(views)]
    assert is_harmless(draw_overview(moments, None, whole, *size), glyphs, *size)
    entries = tuple(spoilt(entry) for entry in scenes.entries())
    assert is_harmless(draw_runs(entries, 1, {13}, NASTY, whole, *size), glyphs, *size)
    sides = [spoilt(side) for side in scenes.three_sides()]
    assert is_harmless(draw_compare(sides, 1, whole, *size), glyphs, *size)
    form = Form(spoilt(scenes.HANDLEBAR), texts=dict.fromkeys((Row.BATH, Row.PART), NASTY))
    assert is_harmless(draw_card(form, review.view, None, glyphs, *size), glyphs, *size)
    trouble = replace(whole, trouble=NASTY)
    assert is_harmless(draw_live(trouble, *size), glyphs, *size)
    assert is_harmless(draw_runs((), 0, set(), "", trouble, *size), glyphs, *size)
