"""The ledger's screen: a bath's state, what to do, jobs and entries, by plain keys."""

from pathlib import Path

import pytest

from monitor.base.errors import StoreError
from monitor.model.card import JobCard
from monitor.model.entry import Entry, Kind
from monitor.store.bath_rows import BathBook
from monitor.store.job_rows import JobBox
from monitor.store.writer import StoreWriter
from tests.monitor.store.bench import a_run, a_sample, an_estimate
from tests.tui import pictures, scenes
from tests.tui.ledgers import NAMES, StillBaths, a_job, a_view
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
from tui.baths import LOOK_EVERY, BathPage, StoredBaths
from tui.glyphs import ASCII
from tui.ink import width_of
from tui.ledger import LedgerScreen
from tui.moment import Moment
from tui.panels.ledger import bar_of, draw_ledger
from tui.review import ReviewScreen
from tui.run_list import RunListScreen


def ledger(source: StillBaths | None = None) -> LedgerScreen:
    return LedgerScreen(source or StillBaths(), StillClock(10.0), ASCII)


async def test_a_bath_is_told_with_its_jobs_left_and_what_to_do() -> None:
    screen = ledger()
    async with shown(screen, (110, 40)) as pilot:
        await settled(screen, pilot)
        text = text_of(screen)
    for told in (
        "LEDGER  north tank   bath 1 of 2",
        "jobs left",
        "Output OFF. Add ",
        "since then",
        "19.3 % (17.1 % to 21.7 %",
        "milliohm",
        "Jobs, the newest first (16)",
    ):
        assert told in text, told


async def test_arrows_scroll_to_entries_and_cautions_and_no_further() -> None:
    screen = ledger()
    async with shown(screen, (80, 24)) as pilot:
        await settled(screen, pilot)
        await strike(screen, pilot, "up")
        assert screen.first == 0
        await strike(screen, pilot, "end")
        assert "local codes" in text_of(screen)
        last = screen.first
        await strike(screen, pilot, "down")
        assert screen.first == last
        await strike(screen, pilot, "pageup")
        assert screen.first == last - 10
        await strike(screen, pilot, "home")
        assert "solution" in text_of(screen)


async def test_another_bath_begins_at_its_top() -> None:
    source = StillBaths()
    screen = ledger(source)
    async with shown(screen, (80, 24)) as pilot:
        await settled(screen, pilot)
        await strike(screen, pilot, "end", "right")
        await until(pilot, lambda: screen.page.at == 1, "the other bath")
        assert screen.first == 0
        await strike(screen, pilot, "right")
        await until(pilot, lambda: screen.page.at == 0, "the first bath")
    assert source.asked == [NAMES[1], NAMES[0]]


async def test_a_store_that_cannot_be_read_is_told() -> None:
    source = StillBaths()
    screen = ledger(source)
    async with shown(screen, (80, 24)) as pilot:
        await settled(screen, pilot)
        source.trouble = "the disk is gone"
        await until(pilot, lambda: "NO VIEW: the disk is gone" in text_of(screen), "the trouble")


@pytest.mark.parametrize("size", [(1, 1), (20, 3), (40, 12), (80, 24), (200, 60)])
@pytest.mark.parametrize("first", [0, 7, 1000])
def test_the_page_fits_every_size(size: tuple[int, int], first: int) -> None:
    for page in (BathPage(), BathPage(NAMES, 0, a_view("north tank", 16))):
        lines = draw_ledger(page, first, Moment(None, glyphs=ASCII), *size)
        assert (len(lines), {width_of(line) for line in lines}) == (size[1], {size[0]})


def test_a_peak_is_drawn_against_the_limit() -> None:
    # 1.45 S grown by 2 % once, times 4.4 V, is 6.51 A of 10: 13 of 20 characters.
    assert bar_of(a_job(1, "north tank")) == f"[{'#' * 13}{'.' * 7}]  6.51 of  10"


async def test_l_opens_the_ledger_from_live_screen_review_and_list() -> None:
    live, source, _ = on_stage(pictures.steady(80, ASCII))
    review, _, _ = on_stage(pictures.review(80, ASCII), ReviewScreen, ASCII)
    archive = scenes.StillArchive(scenes.entries(), source)
    runs = RunListScreen(archive, StillClock(10.0), pictures.BOOT, ASCII)
    for screen in (live, review, runs):
        async with shown(screen, (80, 24)) as pilot:
            await settled(screen, pilot)
            await strike(screen, pilot, "l")
            await until(pilot, lambda: "There is no bath yet" in seen(pilot.app.screen), "it")
            await strike(screen, pilot, "q")
            assert not isinstance(pilot.app.screen, LedgerScreen)
    assert isinstance(source, StillSource)
    assert source.asked == []


def seen(screen: object) -> str:
    assert isinstance(screen, LedgerScreen)
    return text_of(screen)


def test_a_page_is_made_anew_only_when_something_has_changed(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    with StoreWriter(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(0)), (run, an_estimate(0))])
        writer.end_run(run, 10, "ended by the operator")
        source = StoredBaths(path)
        first = source.look(None)
        assert first.names == ("north tank",)
        assert all(source.look(None) is first for _ in range(3 * LOOK_EVERY))
        BathBook(path).add(Entry("swab pot", Kind.MAKE_UP, 1, litres=0.4))
        looks = [source.look(None) for _ in range(LOOK_EVERY)]
        assert looks[-1].names == ("north tank", "swab pot")
        JobBox(path).put_card(run, JobCard(bath="swab pot"))
        source.choose("swab pot")
        page = source.look(None)
    assert page.view is not None
    assert (page.at, page.view.bath, len(page.view.runs)) == (0, "swab pot", 1)


def test_a_store_that_is_not_there_is_a_trouble_of_the_store(tmp_path: Path) -> None:
    with pytest.raises(StoreError):
        StoredBaths(tmp_path / "no.db").look(None)
