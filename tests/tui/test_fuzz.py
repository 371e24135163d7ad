"""Thousands of random keys, pasted text, every size: no run ended, no limit changed, no crash."""

import random
from collections.abc import Awaitable, Callable

import pytest
from textual.events import Key, Paste
from textual.pilot import Pilot

from monitor.model.request import RequestKind
from tests.tui import pictures, scenes
from tests.tui.bench import overview
from tests.tui.fuzz import QUIT, Fuzz
from tests.tui.stage import (
    CHARACTERS,
    StillClock,
    StillSource,
    settled,
    shown,
    strike,
    text_of,
    until,
)
from tui.desk import Desk
from tui.glyphs import ASCII, BLOCK, SETS
from tui.ink import plain, width_of
from tui.live import LiveScreen
from tui.run_list import RunListScreen
from tui.sheet_screen import SheetScreen

KEYS = [2_000, pytest.param(10_000, marks=pytest.mark.trial)]
LOOKED_AT_EVERY = 25
SIZE = (64, 20)


def struck(screen: SheetScreen, key: str) -> None:
    """Give a key to a screen as the terminal would, at once."""
    screen.on_key(Key(key, key if len(key) == 1 else CHARACTERS.get(key)))


async def tormented(
    lowest: SheetScreen,
    pilot: Pilot[None],
    keys: int,
    seed: int,
    monkeypatch: pytest.MonkeyPatch,
    go_on: Callable[[], Awaitable[None]],
) -> set[str]:
    """So many keys on whatever screen is on top; the names of the screens that were."""
    desk, fuzz, seen = pilot.app, Fuzz(seed), set()
    assert isinstance(desk, Desk)
    for count in range(keys):
        top = desk.sheets[-1]
        seen.add(type(top).__name__)
        # Drawn now and then only: ten thousand drawings would take most of a minute.
        with monkeypatch.context() as patch:
            patch.setattr(type(top), "redraw", lambda _: None)
            struck(top, fuzz.key(QUIT if top is lowest else ()))
            if fuzz.happens(0.01):
                top.on_paste(Paste(fuzz.paste()))
        if desk.sheets[-1] is not top or count % LOOKED_AT_EVERY == 0:
            await pilot.pause(0)
            desk.sheets[-1].redraw()
            await go_on()
    return seen


@pytest.mark.parametrize("keys", KEYS)
async def test_thousands_of_keys_on_the_supplies_end_no_run_and_change_no_limit(
    keys: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    lowest, bench = overview(glyphs=ASCII)
    facts = [view.row.facts for view in bench.views]
    clock = lowest.clock
    assert isinstance(clock, StillClock)
    kept_views = bench.views

    async def go_on() -> None:
        clock.run_s += 0.5
        bench.views = kept_views

    async with shown(lowest, SIZE) as pilot:
        await settled(lowest, pilot)
        seen = await tormented(lowest, pilot, keys, 7, monkeypatch, go_on)
        assert pilot.app.is_running
    assert seen == {"OverviewScreen", "LiveScreen", "CardScreen", "LedgerScreen"}
    asked = [kind for source in bench.sources.values() for kind, _ in source.asked]
    assert len(asked) > keys / 100
    assert RequestKind.END_RUN not in asked
    assert [view.row.facts for view in bench.views] == facts


@pytest.mark.parametrize("keys", KEYS)
async def test_thousands_of_keys_on_the_archive_ask_the_recorder_nothing(
    keys: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    moment = scenes.reviewed(64, ASCII)
    assert moment.view is not None
    source, clock = StillSource(moment.view), StillClock(moment.now_s)
    archive = scenes.StillArchive(scenes.entries(), source)
    lowest = RunListScreen(archive, clock, pictures.BOOT, ASCII)

    async def go_on() -> None:
        clock.run_s += 0.5

    async with shown(lowest, SIZE) as pilot:
        await settled(lowest, pilot)
        seen = await tormented(lowest, pilot, keys, 11, monkeypatch, go_on)
        assert pilot.app.is_running
    assert seen >= {"RunListScreen", "ReviewScreen", "CompareScreen"}
    assert {kind for kind, _ in source.asked} <= {RequestKind.SOUND_HEARD}


async def test_pasted_text_ends_nothing_and_goes_only_where_text_is_written() -> None:
    app, source = scenes.live_screen(pictures.rising(80, ASCII))
    async with shown(app, (80, 24)) as pilot:
        await settled(app, pilot)
        for char in "ey/1they say ey":  # a terminal that does not bracket what is pasted
            struck(app, char)
        app.on_paste(Paste("m e y"))
        await pilot.pause()
        assert {kind for kind, _ in source.asked} <= {RequestKind.SHELVE}
        await strike(app, pilot, "escape", "n")
        app.on_paste(Paste("tip\nflushed\x1b[2J"))
        assert "NOTE: tip flushed[2J_" in text_of(app)
        await strike(app, pilot, "enter")
        await until(pilot, lambda: bool(source.asked), "the note")
        assert source.asked == [(RequestKind.NOTE, "tip flushed[2J")]


@pytest.mark.parametrize("scene", scenes.SCENES)
async def test_every_screen_fills_any_size(scene: str) -> None:
    dice = random.Random(scene)
    make, keys = scenes.SCENES[scene]
    screen = make(80, dice.choice(list(SETS.values())))
    sizes = [(1, 1), (1, 100), (300, 1), (300, 100), (40, 12), (39, 12), (40, 11), (2, 2)]
    sizes += [(dice.randint(1, 300), dice.randint(1, 100)) for _ in range(6)]
    sizes += [(dice.randint(1, 64), dice.randint(1, 20)) for _ in range(12)]
    async with shown(screen, (80, 24)) as pilot:
        await settled(screen, pilot)
        await strike(screen, pilot, *keys)
        for width, height in sizes:
            lines = screen.draw(width, height)
            assert (len(lines), {width_of(line) for line in lines}) == (height, {width}), scene
            if isinstance(screen, LiveScreen) and width >= 40 and height >= 12:
                told = "\n".join(map(plain, lines))
                moment = screen.moment()
                assert moment.standing.word in told
                assert moment.view is not None
                assert all(e.alarm in told for e in moment.view.alarms[-1:]), (width, height)


async def test_a_storm_of_sizes_breaks_nothing_on_a_running_screen() -> None:
    fuzz = Fuzz(3)
    app, _ = scenes.live_screen(pictures.rising(80, BLOCK))
    async with shown(app, (80, 24)) as pilot:
        await settled(app, pilot)
        for _ in range(40):
            await pilot.resize_terminal(*fuzz.size())
        await pilot.resize_terminal(80, 24)
        await until(pilot, lambda: "trip-expected since" in text_of(app), "a whole screen")
