"""The live screen left alone: what turns old, what comes late, and what is drawn when."""

import random
from dataclasses import replace
from functools import partial

import pytest

from monitor.model.alarm import State
from tests.tui import pictures
from tests.tui.live_bench import SIZE, live, opened
from tests.tui.stage import (
    settled,
    shown,
    strike,
    text_of,
    until,
)
from tui.desk import Desk
from tui.glyphs import ASCII, BLOCK
from tui.ink import width_of
from tui.messages import Looked
from tui.run_screen import RunScreen
from tui.sheet import Sheet
from tui.sheet_screen import DRAW_EVERY_S, HUNG_AFTER_S
from tui.view import View, Window


async def test_numbers_turn_to_dashes_by_the_screens_own_clock() -> None:
    app, _, clock = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        assert "9.51 A is 95 %" in text_of(app)
        clock.run_s += 2.0
        app.redraw()
        assert "9.51 A is" not in text_of(app)
        assert "RECORDER STOPPED: no reading for 2 s" in text_of(app)


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
        assert "NO VIEW: bathvigil.db: its disk fails" in text_of(app)


async def test_a_store_that_hangs_is_told_apart_from_a_recorder_that_stopped() -> None:
    app, _, clock = live()
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        app.lookout.stop()
        app.lookout.join(10.0)
        await pilot.pause()
        clock.run_s += HUNG_AFTER_S + 0.1
        app.redraw()
        assert "NO VIEW: the store does not answer" in text_of(app)


async def test_an_alarm_that_comes_is_on_the_screen_at_the_next_look() -> None:
    calm, tripped = pictures.steady(80, ASCII), pictures.cut_out(80, ASCII)
    app, source, clock = live(calm)
    async with shown(app, SIZE) as pilot:
        await settled(app, pilot)
        assert "STEADY" in text_of(app)
        assert tripped.view is not None
        source.view, clock.run_s = tripped.view, tripped.now_s
        await until(pilot, lambda: "CUT OUT" in text_of(app), "the alarm")
        assert "CUT OUT: let it cool, 3:40 so far" in text_of(app)


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
                assert "RISING: trip in about 2 min" in lines[0]
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
