"""What happened first, in which order, and the stops in a row: on the review and after a trip."""

from dataclasses import replace

import pytest

from tests.tui import pictures
from tests.tui.scenes import (
    FIRST_STOP,
    SECOND_STOP,
    changed,
    review_screen,
    reviewed,
    twice_cut_out,
)
from tests.tui.stage import settled, shown, strike, text_of
from tui.glyphs import ASCII
from tui.ink import plain, width_of
from tui.moment import Moment
from tui.page import draw_live, draw_review
from tui.panels.story import TOLD_FOR_S, story_at_cursor


def told(moment: Moment, width: int = 100, height: int = 40) -> str:
    return "\n".join(plain(line) for line in story_at_cursor(moment, width, height))


def live(moment: Moment, width: int, height: int) -> str:
    return "\n".join(plain(line) for line in draw_live(moment, width, height))


def test_the_story_has_cause_order_and_every_stop_of_the_run() -> None:
    lines = told(replace(reviewed(100, ASCII), cursor_s=1190.0)).splitlines()
    assert lines[0] == f"What happened first: slow rise, {SECOND_STOP.sentence}"
    assert lines[1] == SECOND_STOP.series
    assert lines[2:7] == [
        "In order:",
        "   16:40  cut out",
        "   19:10  on again after 2:30",
        "   19:13  6.8 V, 9.6 A",
        "   19:40  cut out",
    ]
    assert lines[7] == "All 2 stops of this run:"
    assert lines[8].startswith("  1   16:40  cut out      slow rise, from 6.6 A to 10.0 A")
    assert lines[9].startswith("> 2   19:40  cut out      slow rise, the same bath drew 9.6 A")


def test_the_cursor_chooses_the_stop() -> None:
    assert FIRST_STOP.sentence in told(replace(reviewed(100, ASCII), cursor_s=1010.0))
    # Before the first of all there is nothing nearer to tell of.
    assert "trip-expected" in told(replace(reviewed(100, ASCII), cursor_s=0.0))


def test_an_alarm_that_stopped_nothing_is_told_with_what_to_do() -> None:
    text = told(replace(reviewed(100, ASCII), cursor_s=900.0))
    assert text.startswith("14:40  high alarm trip-expected")
    assert "It means: " in text
    assert "To do: Turn down the volts" in text
    assert "gloves and goggles" in text


def test_a_run_without_a_stop_says_so() -> None:
    calm = replace(pictures.steady(100, ASCII), cursor_s=100.0)
    assert told(calm) == "No strip stopped and no alarm was raised in this run."


def test_where_room_is_short_the_order_is_running_text() -> None:
    text = told(replace(reviewed(60, ASCII), cursor_s=1190.0), 60, 8)
    assert "In order: 16:40 cut out; 19:10 on again after 2:30" in text
    assert "All 2 stops of this run:" in text


async def test_one_key_opens_the_story_follows_the_cursor_and_closes_it() -> None:
    screen = review_screen(80, ASCII)
    async with shown(screen, (80, 24)) as pilot:
        await settled(screen, pilot)
        await strike(screen, pilot, "x")
        assert "What happened first: slow rise, the same bath" in text_of(screen)
        await strike(screen, pilot, "up", "up")
        assert "What happened first: slow rise, from 6.6 A" in text_of(screen)
        await strike(screen, pilot, "x")
        assert "In order" not in text_of(screen)


@pytest.mark.parametrize("size", [(80, 24), (100, 30), (120, 40)], ids=str)
def test_after_a_trip_the_live_screen_tells_it_all(size: tuple[int, int]) -> None:
    shown_now = live(twice_cut_out(size[0], ASCII), *size)
    for words in ("What happened first", "In order", "second cut-out in 3:00", "All 2 stops"):
        assert words in shown_now
    assert "DO: Output OFF. Let supply and bath cool" in shown_now
    assert "tripped since 19:40, not" in shown_now


def test_the_live_screen_goes_back_to_its_chart_once_current_flows() -> None:
    going = changed(pictures.steady(80, ASCII), explanations=(FIRST_STOP,))
    assert "What happened first" not in live(going, 80, 24)


def test_an_old_stop_is_not_told_for_ever() -> None:
    moment = twice_cut_out(80, ASCII)
    later_s = TOLD_FOR_S + SECOND_STOP.t_ns / 1e9 + 1.0
    assert moment.view is not None
    last = pictures.sample(later_s, 0.0)
    later = changed(replace(moment, now_s=later_s + 0.1), last=last, last_sample=last)
    assert "What happened first" not in live(later, 80, 24)


def test_a_review_offers_no_key_that_does_nothing_there() -> None:
    # A run that was interrupted keeps its alarms; nobody is there to acknowledge them to.
    moment = changed(reviewed(80, ASCII), alarms=(pictures.TRIPPED,))
    last = plain(draw_review(moment, 80, 24)[-1])
    assert "acknowledge" not in last
    assert "ARROWS" in last


def test_words_from_the_store_are_inert() -> None:
    odd = replace(FIRST_STOP, sentence="a\x1b[2J\u202e[bold]", order=(), series="\x07" * 9)
    moment = changed(replace(reviewed(80, ASCII), cursor_s=1010.0), explanations=(odd,))
    lines = story_at_cursor(moment, 60, 20)
    assert all(plain(line).isprintable() for line in lines)
    assert max(map(width_of, lines)) <= 60
