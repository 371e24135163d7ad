"""The live screen driven by keys: it asks what it says, and no single key ends anything."""

from dataclasses import replace
from functools import partial

import pytest

from monitor.model.event import Prompt
from monitor.model.outcome import Gone, Outcome
from monitor.model.request import RequestKind
from tests.tui import pictures, scenes
from tests.tui.live_bench import SIZE, asked, live
from tests.tui.stage import (
    settled,
    shown,
    strike,
    text_of,
    until,
)
from tui.glyphs import ASCII


@pytest.mark.parametrize("key", ["space", "enter", "0"])
async def test_one_key_acknowledges_and_says_what(key: str) -> None:
    app, source, _ = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, key)
        await asked(app, pilot, source)
        assert source.asked == [(RequestKind.ACKNOWLEDGE, "trip-expected#1")]
        assert "asked the recorder: acknowledge trip-expected" in text_of(app)


async def test_with_nothing_to_acknowledge_the_key_says_so() -> None:
    app, source, _ = live(pictures.steady(80, ASCII))
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, "space")
        assert "there is nothing to acknowledge" in text_of(app)
        assert source.asked == []


@pytest.mark.parametrize("keys", [("e", "y"), ("/", "1")], ids=str)
async def test_two_keys_end_the_run_and_the_first_says_so(keys: tuple[str, str]) -> None:
    app, source, clock = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, keys[0])
        assert "within 5 s to END THE RUN" in text_of(app)
        assert source.asked == []
        clock.run_s += 0.3
        await strike(app, pilot, keys[1])
        await asked(app, pilot, source)
        assert source.asked == [(RequestKind.END_RUN, "")]


async def test_what_is_asked_is_confirmed_by_the_key_that_the_last_row_names() -> None:
    app, source, _ = live(scenes.finishing(80, ASCII))
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        text = text_of(app)
        assert "DONE?: the conductance fell by 7%" in text
        assert "x  confirm strip-looks-finished" in text.splitlines()[-1]
        await strike(app, pilot, "x")
        await asked(app, pilot, source)
        assert source.asked == [(RequestKind.NEXT_STEP, "strip-looks-finished")]


async def test_the_hold_counts_down_and_another_press_asks_nothing() -> None:
    app, source, clock = live(scenes.holding(80, ASCII))
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        assert "KEEP CURRENT ON: 12 s left" in text_of(app)
        clock.run_s += 0.9
        app.redraw()
        assert "KEEP CURRENT ON: 12 s left" in text_of(app)
        last = pictures.sample(501.4, 7.2)
        source.view = replace(source.view, last=last, last_sample=last)
        clock.run_s += 0.5
        await until(pilot, lambda: "KEEP CURRENT ON: 11 s left" in text_of(app), "a second less")
        await strike(app, pilot, "x")
        assert "the current is being kept on already" in text_of(app)
        assert source.asked == []


async def test_how_it_turned_out_is_said_at_the_bath_and_answers_what_is_asked() -> None:
    asks = Prompt("check-wetting", 2450, 490_000_000_000, "rinse, hold upright")
    app, source, _ = live(scenes.changed(pictures.steady(80, ASCII), prompts=(asks,)))
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        assert "Press w and answer" in text_of(app)
        await strike(app, pilot, "w")
        assert "Is the chromium gone everywhere?" in text_of(app)
        await strike(app, pilot, "p")
        assert "Does the water film hold?" in text_of(app)
        await strike(app, pilot, "3")
        await asked(app, pilot, source)
    assert source.outcomes == [Outcome(Gone.PATCHES, film_holds=False)]
    assert source.asked == [(RequestKind.NEXT_STEP, "check-wetting")]


async def test_the_questions_never_take_the_key_that_acknowledges() -> None:
    app, source, clock = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, "w", "space")
        await asked(app, pilot, source)
        assert source.asked == [(RequestKind.ACKNOWLEDGE, "trip-expected#1")]
        await strike(app, pilot, "w", "y")
        clock.run_s += 61.0
        app.redraw()
        assert "Does the water film hold?" not in text_of(app)
        await strike(app, pilot, "w", "x", "x")
        await until(pilot, lambda: bool(source.outcomes), "the outcome")
    assert source.outcomes == [Outcome(None, None)]


async def test_an_alarm_covers_the_hold() -> None:
    moment = scenes.holding(80, ASCII)
    app, _, _ = live(scenes.changed(moment, alarms=(pictures.EXPECTED,)))
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        assert "RISING" in text_of(app).splitlines()[0]
        assert "KEEP CURRENT ON" not in text_of(app)


async def test_the_first_key_of_ending_is_forgotten_after_a_while() -> None:
    app, source, clock = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, "e")
        clock.run_s += 6.0
        await strike(app, pilot, "y")
        assert "END THE RUN" not in text_of(app)
        assert source.asked == []


async def test_help_and_glyphs_between_the_two_keys_break_them_up() -> None:
    app, source, _ = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, "e", "g", "y", "e", "?", "y", "y")
        assert source.asked == []


async def test_one_key_drops_a_mark() -> None:
    app, source, _ = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, "m")
        await asked(app, pilot, source)
        assert source.asked == [(RequestKind.MARK, "")]


async def test_a_note_is_written_and_its_keys_do_nothing_else() -> None:
    app, source, _ = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, "n", *"e y m q")
        assert "NOTE: e y m q_" in text_of(app).replace("  ", " ")
        await strike(app, pilot, "enter")
        await asked(app, pilot, source)
        assert source.asked == [(RequestKind.NOTE, "e y m q")]


async def test_space_on_a_blank_note_acknowledges() -> None:
    app, source, _ = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, "n", "space")
        await asked(app, pilot, source)
        assert source.asked == [(RequestKind.ACKNOWLEDGE, "trip-expected#1")]


async def test_the_help_opens_and_any_key_closes_it() -> None:
    app, source, _ = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, "?")
        assert "end the run: the second key within 5 seconds" in text_of(app)
        await strike(app, pilot, "m")
        assert "end the run: the second" not in text_of(app)
        assert source.asked == []


async def test_the_key_that_acknowledges_works_through_the_help() -> None:
    app, source, _ = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, "h", "space")
        await asked(app, pilot, source)
        assert source.asked == [(RequestKind.ACKNOWLEDGE, "trip-expected#1")]


@pytest.mark.parametrize("key", ["q", "ctrl+c", "ctrl+q"])
async def test_closing_the_screen_asks_nothing_of_the_recorder(key: str) -> None:
    app, source, _ = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, key)
    assert pilot.app.return_code == 0
    assert source.asked == []
    app.lookout.join(10.0)
    assert source.is_closed


async def test_one_key_goes_round_the_glyphs() -> None:
    app, source, _ = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        assert text_of(app).isascii()

        def shows(counted: int) -> bool:
            return source.windows[-1].count // 54 == counted

        for counted in (2, 1, 1):
            await strike(app, pilot, "g")
            await until(
                pilot,
                partial(shows, counted),
                "a chart of as many points as the glyphs have",
            )
        assert text_of(app).isascii()


async def test_plus_comes_closer_and_minus_goes_wider() -> None:
    app, _, _ = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)

        def span_s() -> float:
            window = app.window(80)
            assert window is not None
            return window.to_s - window.from_s

        at_first = span_s()
        await strike(app, pilot, "+")
        closer = span_s()
        await strike(app, pilot, "-", "-")
        assert closer < at_first < span_s()
        await strike(app, pilot, *["-"] * 30)
        assert span_s() == pytest.approx(2_592_000, rel=0.1)
