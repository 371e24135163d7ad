"""The job card: a few keys, last time's answers with one, and no answer is forced."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.job.card import JobCard, Way
from monitor.store.rows import RequestKind, Status
from tests.tui import pictures
from tests.tui.stage import StillClock, StillSource, settled, shown, strike, text_of, until
from tui.card import CardScreen
from tui.form import Deed, Form, Row, corrected
from tui.glyphs import ASCII
from tui.ink import width_of
from tui.panels.card import draw_card

BEFORE = JobCard("north tank", "strip", Way.TANK, "handlebar", 4.5, 0.5, "Ada")


def asking(before: JobCard | None = BEFORE) -> tuple[CardScreen, StillSource]:
    view = pictures.starting(80, ASCII).view
    assert view is not None
    sound = {"sound": Status("sound", 0, "SOUND NOT CHECKED: aplay", None)}
    source = StillSource(replace(view, card_before=before, statuses=sound))
    return CardScreen(source, StillClock(8.1), ASCII), source


async def test_two_keys_keep_the_card_of_last_time() -> None:
    screen, source = asking()
    async with shown(screen, (80, 24)) as pilot:
        await settled(screen, pilot)
        text = text_of(screen)
        assert "strip handlebar in the north tank" in text
        assert "bench-1 cuts out at 10 A" in text
        assert "hexavalent" in text
        assert "SOUND NOT CHECKED" in text
        await strike(screen, pilot, "enter", "enter")
        await until(pilot, lambda: bool(source.cards), "the card")
    assert source.cards == [BEFORE]


async def test_a_card_is_filled_in_by_plain_keys() -> None:
    screen, source = asking(None)
    async with shown(screen, (80, 24)) as pilot:
        await settled(screen, pilot)
        await strike(screen, pilot, "enter", "enter", "space", "space", "down", *"bell", "enter")
        await strike(screen, pilot, *"150 cm2", "enter", *"0,5", "enter", *"Q", "enter")
        await strike(screen, pilot, "enter", "enter")
        await until(pilot, lambda: bool(source.cards), "the card")
    assert source.cards == [JobCard("north tank", "strip", Way.SWAB, "bell", 1.5, 0.5, "Q")]
    assert source.asked == [(RequestKind.SOUND_HEARD, "")]


async def test_escape_goes_on_without_a_card() -> None:
    screen, source = asking()
    async with shown(screen, (80, 24)) as pilot:
        await settled(screen, pilot)
        await strike(screen, pilot, *"qx", "escape")
    assert source.cards == []


def test_what_cannot_be_read_is_told_before_it_is_kept() -> None:
    form = corrected(None, None, "")
    form.texts[Row.AREA], form.at = "12", Row.KEEP
    assert form.press("enter") is None
    assert "150 cm2" in form.complaint
    form.texts[Row.AREA] = "12 cm2"
    assert form.press("enter") is Deed.KEEP


@given(st.lists(st.sampled_from([*"aq0.,ye ", "enter", "up", "down", "left", "space", "tab"])))
def test_whatever_is_typed_the_form_stays_whole(keys: list[str]) -> None:
    form = Form(BEFORE)
    for key in keys:
        form.press(key)
        assert form.at in form.rows
        assert form.card is not None


@pytest.mark.parametrize("size", [(1, 1), (30, 4), (40, 12), (80, 24), (120, 40)])
def test_the_row_that_is_asked_is_always_in_sight(size: tuple[int, int]) -> None:
    view = pictures.starting(80, ASCII).view
    for row in Row:
        lines = draw_card(Form(BEFORE, at=row), view, None, ASCII, *size)
        assert (len(lines), {width_of(line) for line in lines}) == (size[1], {size[0]})
        if size[1] > 2 and size[0] > 4:
            assert any(line[0][0].startswith(">") for line in lines)
