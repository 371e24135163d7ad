"""The list of runs on a real store: found, opened, compared; texts and outcomes added later."""

from dataclasses import replace
from math import ceil
from pathlib import Path

import pytest
from textual.pilot import Pilot

from drivers.base.clock import SystemClock
from monitor.model.card import JobCard, Way
from monitor.model.event import Mark
from monitor.model.outcome import Gone, Outcome
from monitor.store.job_rows import JobBox
from monitor.store.reader import open_store
from monitor.store.writer import StoreWriter
from tests.tui import pictures
from tests.tui.stage import settled, shown, strike, text_of, until
from tests.tui.test_look import sample
from tui.archive import ArchiveSource, chosen
from tui.compare import CompareScreen
from tui.desk import Desk
from tui.glyphs import ASCII, BRAILLE
from tui.look import StoreSource
from tui.review import ReviewScreen
from tui.run_list import RunListScreen
from tui.side_by_side import differences, side_of, unlike

SIZE = (120, 40)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Three runs of 40 s: 9 A, 6 A with a mark, and 6 A of another supply asked half as often."""
    path = tmp_path / "bathvigil.db"
    slow = replace(pictures.FACTS, supply="bench-2", bath="swab pot", poll_s=0.4)
    with StoreWriter(path) as writer:
        for facts, amps in ((pictures.FACTS, 9.0), (pictures.FACTS, 6.0), (slow, 6.0)):
            row = writer.begin_run(facts, clock=SystemClock(), program="bathvigil 0.1.0")
            writer.write([(row.run, sample(seq, amps + seq % 2 / 10)) for seq in range(200)])
            if amps == 6.0:
                writer.write([(row.run, Mark(1, 10_000_000_000 * row.run, 0))])
            writer.end_run(row.run, 40_000_000_000, "ended by the operator")
    box = JobBox(path)
    box.put_card(1, JobCard("north tank", "strip", Way.TANK, "handlebar", 4.5, None, "Ada"))
    box.put_outcome(1, Outcome(Gone.YES, film_holds=True))
    box.put_outcome(2, Outcome(Gone.PATCHES, film_holds=False))
    return path


def listing(path: Path) -> RunListScreen:
    return RunListScreen(ArchiveSource(path), SystemClock(), pictures.BOOT, ASCII)


def top(pilot: Pilot[None]) -> object:
    assert isinstance(pilot.app, Desk)
    return pilot.app.sheets[-1]


@pytest.mark.parametrize(
    ("words", "runs"),
    [
        ("", [3, 2, 1]),
        ("handlebar", [1]),
        ("part:handlebar supply:bench-1", [1]),
        ("bath:swab", [3]),
        ("supply:bench-2", [3]),
        ("outcome:gone", [1]),
        ("outcome:patches", [2]),
        ("from:2000-01-01", [3, 2, 1]),
        ("until:2000", []),
        ("ADA", [1]),
        ("no-such-thing", []),
    ],
)
def test_runs_are_found_by_what_is_known_of_them(path: Path, words: str, runs: list[int]) -> None:
    source = ArchiveSource(path)
    assert [entry.row.run for entry in chosen(source.look(None), words)] == runs
    source.close()


async def test_the_list_opens_a_run_and_comes_back(path: Path) -> None:
    screen = listing(path)
    async with shown(screen, SIZE) as pilot:
        await settled(screen, pilot)
        assert "3 runs, the newest first" in text_of(screen)
        assert "handlebar: chromium gone, water film whole (bench-1, north tank)" in text_of(screen)
        await strike(screen, pilot, "end", "enter")
        review = top(pilot)
        assert isinstance(review, ReviewScreen)
        await settled(review, pilot)
        assert "strip handlebar in the north tank" in text_of(review)
        await strike(review, pilot, "q")
        assert top(pilot) is screen


async def test_typing_narrows_the_list_and_one_key_shows_all_again(path: Path) -> None:
    screen = listing(path)
    async with shown(screen, SIZE) as pilot:
        await settled(screen, pilot)
        await strike(screen, pilot, "f", *"qc", "backspace", "backspace", *"swab", "enter")
        assert "1 run found for: swab" in text_of(screen)
        await strike(screen, pilot, "r")
        assert "3 runs" in text_of(screen)


async def test_picked_runs_stand_side_by_side_and_hide_no_difference(path: Path) -> None:
    screen = listing(path)
    async with shown(screen, SIZE) as pilot:
        await settled(screen, pilot)
        await strike(screen, pilot, "c")
        assert "pick 2 to 6 runs first" in text_of(screen)
        await strike(screen, pilot, "space", "down", "space", "down", "space", "c")
        compare = top(pilot)
        assert isinstance(compare, CompareScreen)
        await until(pilot, lambda: bool(compare.sides), "the sides")
        await pilot.pause()
        text = text_of(compare)
        for words in ("SAMPLED DIFFERENTLY", "* mean amps", "9.05 A", "* asked every", "ripple"):
            assert words in text
        await strike(compare, pilot, "a")
        assert "aligned on mark 1" in text_of(compare)
        assert "has no mark 1" in text_of(compare)
        await strike(compare, pilot, "a")
        assert "aligned on their start" in text_of(compare)


async def test_a_mark_gets_its_text_and_the_run_its_outcome_afterwards(path: Path) -> None:
    screen = listing(path)
    async with shown(screen, SIZE) as pilot:
        await settled(screen, pilot)
        await strike(screen, pilot, "down", "enter")
        review = top(pilot)
        assert isinstance(review, ReviewScreen)
        await settled(review, pilot)
        await strike(review, pilot, "t", *"flushed", "enter", "w", "y", "n")
        await until(pilot, lambda: "mark 1 flushed" in text_of(review), "the text")
        await until(pilot, lambda: "chromium gone, water film" in text_of(review), "the outcome")
    with open_store(path) as store:
        assert [mark.text for mark in store.run(2).marks()] == ["flushed"]
        assert store.run(2).outcome() == Outcome(Gone.YES, film_holds=False)


async def test_a_spike_of_one_sample_is_found_whole_and_zoomed_to_down_to_itself(
    tmp_path: Path,
) -> None:
    path, spike = tmp_path / "spike.db", 4321
    with StoreWriter(path) as writer:
        row = writer.begin_run(pictures.FACTS, clock=SystemClock(), program="bathvigil 0.1.0")
        amps = [13.7 if seq == spike else 6.0 + seq % 7 / 100 for seq in range(9000)]
        writer.write([(row.run, sample(seq, value)) for seq, value in enumerate(amps)])
        writer.end_run(row.run, 1_800_000_000_000, "ended by the operator")
    source = StoreSource(path, row.run)
    review = ReviewScreen(source, SystemClock(), pictures.BOOT, BRAILLE)
    async with shown(review, SIZE) as pilot:
        await settled(review, pilot)
        await until(pilot, lambda: charted(review, 1800.0), "the whole run")
        assert review.view is not None
        assert max(c.amps_high or 0.0 for c in review.view.chart.columns) == 13.7
        review.put_cursor(spike * 0.2 + 0.001)
        await strike(review, pilot, *["+"] * 8)
        await until(pilot, lambda: charted(review, 1800.0 / 2**8), "single samples")
        seen = [column for column in review.view.chart.columns if column.samples]
        assert {column.samples for column in seen} == {1}
        assert len(seen) == pytest.approx(1800.0 / 2**8 / 0.2, abs=2)
        for column in seen:
            seq = ceil(column.from_s / 0.2 - 1e-6)
            assert column.amps_low == column.amps_high == amps[seq]
        here = review.view.chart.column_at(review.cursor_s or 0.0)
        assert here is not None
        assert (here.samples, here.amps_high) == (1, 13.7)


def charted(review: ReviewScreen, span_s: float) -> bool:
    """Whether the chart that is shown has come to this length."""
    if review.view is None:
        return False
    window = review.view.chart.window
    return abs(window.to_s - window.from_s - span_s) < 0.01 * span_s


def test_means_most_and_ripple_are_those_of_the_samples(path: Path) -> None:
    with open_store(path) as store:
        sides = [side_of(store.run(run), 40.0) for run in (1, 2)]
    # Samples alternate between 9.0 and 9.1 A, so these follow by hand.
    assert sides[0].mean_amps == pytest.approx(9.05)
    assert sides[0].most_amps == pytest.approx(9.1)
    assert sides[0].ripple_amps == pytest.approx(0.1)
    table = {name: (texts, differ) for name, texts, differ in differences(sides)}
    assert table["mean amps"] == (["9.05 A", "6.05 A"], True)
    assert not table["asked every"][1]
    assert unlike(sides) == []
