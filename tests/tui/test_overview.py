"""Several supplies: one row each, the worst first, one key into each and back."""

from dataclasses import replace

import pytest
from textual.pilot import Pilot

from tests.tui import pictures
from tests.tui.bench import NOW_S, four_supplies, overview, seen
from tests.tui.stage import settled, shown, strike, text_of, until
from tui.card import CardScreen
from tui.desk import Desk
from tui.ink import Ink, plain, width_of
from tui.live import LiveScreen
from tui.moment import Moment
from tui.panels.overview import draw_overview

SIZE = (80, 24)


def top(pilot: Pilot[None]) -> object:
    desk = pilot.app
    assert isinstance(desk, Desk)
    return desk.sheets[-1]


async def test_the_worst_stands_first_and_every_supply_has_its_row() -> None:
    screen, _ = overview()
    async with shown(screen, SIZE) as pilot:
        await settled(screen, pilot)
        text = text_of(screen)
        assert "2 of 4 supplies: look at number 3" in text
        places = [text.index(name) for name in ("bench-3", "bench-2", "bench-1", "bench-4")]
        assert places == sorted(places)
        for words in ("CUT OUT", "RISING", "STEADY", "STARTING", "trip in 2 min", "of 10.0 A"):
            assert words in text


@pytest.mark.parametrize("key", ["2", "down"])
async def test_one_key_goes_into_a_supply_and_one_comes_back(key: str) -> None:
    screen, bench = overview()
    async with shown(screen, SIZE) as pilot:
        await settled(screen, pilot)
        await strike(screen, pilot, key)
        if key == "down":
            await strike(screen, pilot, "enter")
        live = top(pilot)
        assert isinstance(live, LiveScreen)
        await settled(live, pilot)
        assert "RISING" in text_of(live)
        assert "bench-2" in text_of(live)
        await strike(live, pilot, ".")
        assert top(pilot) is screen
        assert bench.opened == [12]
        await strike(screen, pilot, "1")
        live = top(pilot)
        assert isinstance(live, LiveScreen)
        await strike(live, pilot, "q")
        assert top(pilot) is screen


async def test_a_number_stays_with_its_supply_when_the_order_changes() -> None:
    screen, bench = overview()
    async with shown(screen, SIZE) as pilot:
        await settled(screen, pilot)
        calm = seen(pictures.steady(), "bench-3", "south tank", 13)
        bench.views = (*four_supplies()[:2], calm)
        await until(pilot, lambda: "CUT OUT" not in text_of(screen), "the calm")
        assert "look at number 2" in text_of(screen)
        await strike(screen, pilot, "3")
        assert bench.opened == [13]


async def test_runs_come_and_go() -> None:
    screen, bench = overview(())
    async with shown(screen, SIZE) as pilot:
        await settled(screen, pilot)
        assert "Nothing is recorded now" in text_of(screen)
        await strike(screen, pilot, "1", "enter", "down", "j")
        bench.views = four_supplies()
        await until(pilot, lambda: "bench-4" in text_of(screen), "four supplies")
        bench.views = bench.views[:1]
        await until(pilot, lambda: "bench-4" not in text_of(screen), "one supply")
        assert "1 supply, nothing abnormal" in text_of(screen)
        await strike(screen, pilot, "4")
        assert "there is no supply number 4" in text_of(screen)


async def test_a_store_that_fails_is_told_and_old_values_are_dashes() -> None:
    screen, bench = overview()
    async with shown(screen, SIZE) as pilot:
        await settled(screen, pilot)
        bench.trouble = "bathvigil.db: its disk fails"
        await until(pilot, lambda: bool(screen.trouble), "the trouble")
        assert "NO VIEW: bathvigil.db: its disk fails" in text_of(screen)
        clock = screen.clock
        # The stage's clock stands still until a test moves it; the screen knows only `Clock`.
        clock.run_s += 3.0  # type: ignore[attr-defined]
        screen.redraw()
        assert "7.2" not in text_of(screen)


async def test_the_card_comes_first_where_it_is_asked_for_and_only_once() -> None:
    screen, _ = overview(asks_card=True)
    async with shown(screen, SIZE) as pilot:
        await settled(screen, pilot)
        await strike(screen, pilot, "2")
        card = top(pilot)
        assert isinstance(card, CardScreen)
        await strike(card, pilot, "escape")
        assert isinstance(top(pilot), LiveScreen)
        await strike(screen, pilot, "q")
        await strike(screen, pilot, "2")
        assert isinstance(top(pilot), LiveScreen)


@pytest.mark.parametrize("size", [(1, 1), (20, 3), (40, 12), (64, 20), (80, 24), (120, 40)])
def test_every_size_is_filled_and_the_worst_is_in_it(size: tuple[int, int]) -> None:
    moments = [
        (number, Moment(view, NOW_S, pictures.LOCAL_TIME))
        for number, view in enumerate(reversed(four_supplies()), 1)
    ]
    moments.sort(key=lambda one: one[1].standing.word != "CUT OUT")
    lines = draw_overview(moments, None, Moment(None, local_time="11:18:24"), *size)
    assert len(lines) == size[1]
    assert {width_of(line) for line in lines} == {size[0]}
    if size[0] >= 40:
        assert "CUT OUT" in "\n".join(map(plain, lines)) or size[0] >= 90


def test_names_of_supplies_are_harmless() -> None:
    view = four_supplies()[0]
    facts = replace(view.row.facts, supply="b\x1b[2J\u202e", bath="[bold]")
    moment = Moment(replace(view, row=replace(view.row, facts=facts)), NOW_S)
    lines = draw_overview([(1, moment)], None, Moment(None), 120, 40)
    assert all(plain(line).isprintable() for line in lines)


def test_nothing_is_coloured_while_nothing_is_abnormal() -> None:
    # ISA-101.01-2015: colour is reserved for what is abnormal (as quoted in secondary articles).
    moments = [(1, Moment(four_supplies()[0], NOW_S)), (2, Moment(four_supplies()[3], NOW_S))]
    for size in ((120, 40), (80, 24)):
        lines = draw_overview(moments, None, Moment(None), *size)
        inks = {ink for line in lines for _, ink in line}
        assert inks <= {Ink.PLAIN, Ink.FAINT, Ink.STRONG, Ink.KEY, Ink.ASKED, Ink.BAND}
