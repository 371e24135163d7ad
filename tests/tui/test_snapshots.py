"""Whole screens as pictures, compared with the kept ones; BATHVIGIL_REDRAW=1 draws those anew.

Look at a picture that has changed before it is kept: it is what the operator sees.
"""

import os
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.tui import pictures
from tests.tui.scenes import SCENES
from tests.tui.stage import on_stage, settled, shown, strike
from tui.glyphs import ASCII, BLOCK, BRAILLE, Glyphs
from tui.live import LiveScreen
from tui.moment import Moment
from tui.review import ReviewScreen
from tui.sheet_screen import SheetScreen

NO_COLOUR = "-no-colour"
SCENES_AT = {
    (120, 40): (
        "overview", "card", "runs", "compare", "note", "shelving", "help", "finishing", "holding",
        "cut-out-twice", "story", "ledger",
        "stripping",
    ),
    (80, 24): (
        "overview", "card-filled", "runs", "runs-find", "compare", "note", "shelved", "ending",
        "help", "holding", "limited", "badged", "cut-out-twice", "story", "review-text", "wetting",
        "ledger", "ledger-entries", "stripping",
    ),
    (40, 12): ("note", "holding", "cut-out-twice", "stopped", "help"),
}  # fmt: skip
PLAINER = {"ending": BLOCK, "help": ASCII, "badged": BLOCK, "review-text": ASCII}
"""Drawn so at 80 by 24, so that all three sets are looked at."""

KEPT = Path(__file__).with_name("snapshots")
TABLE = [
    ("steady", (120, 40), BRAILLE),
    ("steady", (80, 24), BRAILLE),
    ("rising", (120, 40), BRAILLE),
    ("rising", (80, 24), BLOCK),
    ("rising", (40, 12), BRAILLE),
    ("cut-out", (120, 40), BRAILLE),
    ("cut-out", (80, 24), ASCII),
    ("no-data", (120, 40), BRAILLE),
    ("no-data", (80, 24), BRAILLE),
    ("review", (120, 40), BRAILLE),
    ("review", (80, 24), BRAILLE),
]


@pytest.fixture(autouse=True)
def greenwich(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The kept pictures show local times of a machine in UTC."""
    with monkeypatch.context() as patched:
        patched.setenv("TZ", "UTC")
        time.tzset()
        yield
    time.tzset()


def moment_of(state: str, width: int, glyphs: Glyphs) -> Moment:
    make = pictures.review if state == "review" else pictures.LIVE[state]
    return make(width, glyphs)


async def picture(moment: Moment, size: tuple[int, int]) -> str:
    """The screen of this moment as SVG."""
    kind = LiveScreen if moment.cursor_s is None else ReviewScreen
    app, _, _ = on_stage(moment, kind, moment.glyphs)
    if isinstance(app, ReviewScreen):
        app.put_cursor(moment.cursor_s or 0.0)
    return await drawn(app, size, ())


async def drawn(screen: SheetScreen, size: tuple[int, int], keys: tuple[str, ...]) -> str:
    """A screen as SVG once these keys have been pressed."""
    async with shown(screen, size) as pilot:
        await settled(screen, pilot)
        await strike(screen, pilot, *keys)
        return pilot.app.export_screenshot()


def held_against(name: str, drawn: str, tmp_path: Path) -> None:
    """Compare a picture with the kept one of this name."""
    if os.environ.get("BATHVIGIL_REDRAW") == "1":
        KEPT.mkdir(exist_ok=True)
        (KEPT / name).write_text(drawn, encoding="utf-8")
    kept = (KEPT / name).read_text(encoding="utf-8")
    if drawn != kept:
        new = tmp_path / name
        new.write_text(drawn, encoding="utf-8")
        pytest.fail(f"{name} has changed: compare with {new}; BATHVIGIL_REDRAW=1 keeps it")


@pytest.mark.parametrize(
    ("state", "size", "glyphs"), TABLE, ids=lambda value: getattr(value, "name", str(value))
)
async def test_the_screen_looks_as_it_did_when_somebody_looked_at_it(
    state: str, size: tuple[int, int], glyphs: Glyphs, tmp_path: Path
) -> None:
    svg = await picture(moment_of(state, size[0], glyphs), size)
    held_against(f"{state}-{size[0]}x{size[1]}.svg", svg, tmp_path)


@pytest.mark.parametrize(
    ("scene", "size"),
    [(scene, size) for size, scenes in SCENES_AT.items() for scene in scenes],
    ids=str,
)
async def test_every_screen_at_work_looks_as_it_did_when_somebody_looked_at_it(
    scene: str, size: tuple[int, int], tmp_path: Path
) -> None:
    make, keys = SCENES[scene]
    glyphs = PLAINER.get(scene, BRAILLE) if size == (80, 24) else BRAILLE
    svg = await drawn(make(size[0], glyphs), size, keys)
    held_against(f"{scene}-{size[0]}x{size[1]}.svg", svg, tmp_path)


@pytest.mark.parametrize("scene", ["overview", "note", "cut-out-twice"])
async def test_without_colour_it_looks_as_it_did_when_somebody_looked_at_it(
    scene: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    make, keys = SCENES[scene]
    svg = await drawn(make(80, BRAILLE), (80, 24), keys)
    held_against(f"{scene}-80x24{NO_COLOUR}.svg", svg, tmp_path)


async def test_the_same_moment_gives_the_same_picture() -> None:
    moment = pictures.rising(80)
    assert await picture(moment, (80, 24)) == await picture(moment, (80, 24))


async def test_another_state_gives_another_picture() -> None:
    size = (80, 24)
    assert await picture(pictures.rising(80), size) != await picture(pictures.steady(80), size)
