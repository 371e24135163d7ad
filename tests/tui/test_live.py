"""The live screen driven by keys: it asks what it says, and no single key ends anything."""

import random
from dataclasses import replace
from functools import partial

import pytest
from textual.pilot import Pilot

from monitor.alarms.alarm import State
from monitor.job.outcome import Outcome
from monitor.store.rows import Prompt, RequestKind
from tests.tui import pictures, scenes
from tests.tui.stage import (
    StillClock,
    StillSource,
    on_stage,
    settled,
    shown,
    strike,
    text_of,
    until,
)
from tui.desk import Desk
from tui.glyphs import ASCII, BLOCK
from tui.ink import width_of
from tui.live import LiveScreen
from tui.messages import Looked
from tui.moment import Moment
from tui.run_screen import RunScreen
from tui.sheet import Sheet
from tui.sheet_screen import DRAW_EVERY_S, HUNG_AFTER_S
from tui.view import View, Window

SIZE = (80, 24)


def live(moment: Moment | None = None) -> tuple[LiveScreen, StillSource, StillClock]:
    app, source, clock = on_stage(moment or pictures.rising(80, ASCII), LiveScreen, ASCII)
    assert isinstance(app, LiveScreen)
    return app, source, clock


async def opened(desk: Desk, app: RunScreen) -> None:
    """Show a screen until its lookout has ended."""
    async with desk.run_test(size=SIZE) as pilot:
        await until(pilot, lambda: not app.lookout.is_alive(), "the lookout's end")
        await pilot.pause()


async def asked(app: RunScreen, pilot: Pilot[None], source: StillSource, count: int = 1) -> None:
    """Wait until so many requests have been dropped and told."""
    await until(pilot, lambda: len(source.asked) >= count, "a request")
    await until(pilot, lambda: "asked the recorder" in text_of(app), "the word of it")


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
        assert "DONE? - the conductance fell by 7%" in text
        assert "x  confirm strip-looks-finished" in text.splitlines()[-1]
        await strike(app, pilot, "x")
        await asked(app, pilot, source)
        assert source.asked == [(RequestKind.NEXT_STEP, "strip-looks-finished")]


async def test_the_hold_counts_down_and_another_press_asks_nothing() -> None:
    app, source, clock = live(scenes.holding(80, ASCII))
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        assert "HOLD ON - 0:12 more" in text_of(app)
        clock.run_s += 0.9
        app.redraw()
        assert "HOLD ON - 0:12 more" in text_of(app)
        last = pictures.sample(501.4, 7.2)
        source.view = replace(source.view, last=last, last_sample=last)
        clock.run_s += 0.5
        await until(pilot, lambda: "HOLD ON - 0:11 more" in text_of(app), "a second less")
        await strike(app, pilot, "x")
        assert "the hold runs already" in text_of(app)
        assert source.asked == []


async def test_how_it_turned_out_is_said_at_the_bath_and_answers_what_is_asked() -> None:
    asks = Prompt("check-wetting", 2450, 490_000_000_000, "rinse, hold upright")
    app, source, _ = live(scenes.changed(pictures.steady(80, ASCII), prompts=(asks,)))
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        assert "Press w and say" in text_of(app)
        await strike(app, pilot, "w")
        assert "Did the water film stay whole?" in text_of(app)
        await strike(app, pilot, "y")
        assert "Is a haze left?" in text_of(app)
        await strike(app, pilot, "3")
        await asked(app, pilot, source)
    assert source.outcomes == [Outcome(True, False)]
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
        assert "Is a haze left?" not in text_of(app)
        await strike(app, pilot, "w", "x", "x")
        await until(pilot, lambda: bool(source.outcomes), "the outcome")
    assert source.outcomes == [Outcome(None, None)]


async def test_an_alarm_covers_the_hold() -> None:
    moment = scenes.holding(80, ASCII)
    app, _, _ = live(scenes.changed(moment, alarms=(pictures.EXPECTED,)))
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        assert "RISING" in text_of(app).splitlines()[0]
        assert "HOLD ON" not in text_of(app)


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


async def test_numbers_turn_to_dashes_by_the_screens_own_clock() -> None:
    app, _, clock = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        assert "9.51 A is 95 %" in text_of(app)
        clock.run_s += 2.0
        app.redraw()
        assert "9.51 A is" not in text_of(app)
        assert "RECORDER STOPPED - nothing new for 2 s" in text_of(app)


async def test_values_that_turn_old_between_two_drawings_are_drawn_in_time(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    app, _, clock = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        assert app.fresh_for_s() == pytest.approx(1.3)  # 2 polls and 1 s, less 0.1 s
        waits: list[float] = []

        def keep(due_s: float, _: object) -> None:
            waits.append(due_s)

        monkeypatch.setattr(app, "set_timer", keep)
        app.redraw()
        clock.run_s += 1.0
        app.redraw()
        clock.run_s += 0.2
        app.redraw()
        assert waits == pytest.approx([0.3, 0.1], abs=0.01)
        clock.run_s += 0.2
        assert app.fresh_for_s() is None
        assert app.moment().sample is None


async def test_a_store_that_fails_is_told_once_the_values_are_old() -> None:
    app, source, clock = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        source.trouble = "bathvigil.db: its disk fails"
        await until(pilot, lambda: bool(app.moment().trouble), "the trouble")
        clock.run_s += 2.0
        app.redraw()
        assert "NO VIEW - bathvigil.db: its disk fails" in text_of(app)


async def test_a_store_that_hangs_is_told_apart_from_a_recorder_that_stopped() -> None:
    app, _, clock = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        app.lookout.stop()
        app.lookout.join(10.0)
        await pilot.pause()
        clock.run_s += HUNG_AFTER_S + 0.1
        app.redraw()
        assert "NO VIEW - the store does not answer" in text_of(app)


async def test_an_alarm_that_comes_is_on_the_screen_at_the_next_look() -> None:
    calm, tripped = pictures.steady(80, ASCII), pictures.cut_out(80, ASCII)
    app, source, clock = live(calm)
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        assert "STEADY" in text_of(app)
        assert tripped.view is not None
        source.view, clock.run_s = tripped.view, tripped.now_s
        await until(pilot, lambda: "CUT OUT" in text_of(app), "the alarm")
        assert "CUT OUT - let it cool, 3:40 so far" in text_of(app)


async def test_new_values_alone_are_drawn_twice_a_second_and_news_at_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    app, source, _ = live(pictures.steady(80, ASCII))
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        drawn: list[object] = []
        monkeypatch.setattr(app, "redraw", lambda: drawn.append(source.view))
        last = source.view.last_sample
        assert last is not None
        newer = replace(last, seq=last.seq + 1, t_ns=last.t_ns + 200_000_000)
        app.on_looked(Looked(replace(source.view, last=newer, last_sample=newer)))
        assert drawn == []
        app.on_looked(Looked(replace(source.view, alarms=(pictures.TRIPPED,))))
        assert len(drawn) == 1
    assert DRAW_EVERY_S == 0.5


async def test_only_rows_that_changed_are_painted_again(monkeypatch: pytest.MonkeyPatch) -> None:
    app, _, _ = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        painted: list[int] = []

        def note(*regions: object, **_: object) -> None:
            painted.append(len(regions))

        monkeypatch.setattr(app._sheet, "refresh", note)
        app.redraw()
        assert painted == []
        app.say("hello")
        assert painted == [1]


def fills(app: RunScreen, width: int, height: int) -> bool:
    """Whether what is shown has exactly this size."""
    lines = app.query_one(Sheet).lines
    return len(lines) == height and all(width_of(line) == width for line in lines)


async def test_a_storm_of_sizes_breaks_nothing() -> None:
    dice = random.Random(11)
    app, _, _ = live(pictures.rising(120, BLOCK))
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        sizes = [(1, 1), (1, 60), (200, 1), (40, 12), (39, 11)]
        sizes += [(dice.randint(1, 200), dice.randint(1, 60)) for _ in range(25)]
        for width, height in sizes:
            await pilot.resize_terminal(width, height)
            await until(pilot, partial(fills, app, width, height), "a drawing of this size")
            lines = text_of(app).split("\n")
            if width >= 40 and height >= 12:
                assert "RISING - trip in about 2 min" in lines[0]
                assert any("trip-expected" in line for line in lines)


async def test_a_run_that_ended_takes_no_requests() -> None:
    still = pictures.steady(80, ASCII)
    assert still.view is not None
    alarms = (replace(pictures.TRIPPED, state=State.RETURNED_UNACKNOWLEDGED),)
    view: View = replace(still.view, row=pictures.row(500.0, "ended"), alarms=alarms)
    app, source, clock = live(replace(still, view=view))
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        assert "FINISHED" in text_of(app)
        await strike(app, pilot, "m", "e")
        clock.run_s += 0.3
        await strike(app, pilot, "y")
        assert "the run has ended" in text_of(app)
        assert source.asked == []


async def test_a_request_that_could_not_be_dropped_is_told() -> None:
    app, source, _ = live()
    source.refusal = "bathvigil.db: its disk is full"
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        await strike(app, pilot, "m")
        await until(pilot, lambda: "could not ask" in text_of(app), "the refusal")
        assert "could not ask: bathvigil.db: its disk is full" in text_of(app)


async def test_a_bug_shows_where_it_is_but_no_values_of_variables(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    app, source, _ = live()

    def fail(_: Window | None) -> View:
        token = "sesame-open"
        raise ZeroDivisionError(f"{len(token)} letters")

    monkeypatch.setattr(source, "look", fail)
    desk = Desk(app)
    with pytest.raises(ZeroDivisionError):
        await opened(desk, app)
    assert desk.return_code == 1
    told = capsys.readouterr()
    assert "sesame-open" not in (told.out + told.err).replace('token = "sesame-open"', "")


@pytest.mark.parametrize(("stood_s", "told"), [(0.9, False), (1.2, True)])
async def test_a_screen_that_comes_late_says_so(stood_s: float, told: bool) -> None:
    app, _, clock = live(pictures.steady(80, ASCII))
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        app.draw_regularly()
        clock.run_s += stood_s
        app.draw_regularly()
        assert ("this screen is 0.7 s late" in text_of(app)) is told
