"""Whole screens as pictures, compared with the kept ones; BATHVIGIL_REDRAW=1 draws those anew.

Look at a picture that has changed before it is kept: it is what the operator sees.
"""

import os
from pathlib import Path

import pytest

from tests.tui import pictures
from tests.tui.stage import on_stage, settled, shown
from tui.glyphs import ASCII, BLOCK, BRAILLE, Glyphs
from tui.live import LiveScreen
from tui.moment import Moment
from tui.review import ReviewScreen

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


def moment_of(state: str, width: int, glyphs: Glyphs) -> Moment:
    make = pictures.review if state == "review" else pictures.LIVE[state]
    return make(width, glyphs)


async def picture(moment: Moment, size: tuple[int, int]) -> str:
    """The screen of this moment as SVG."""
    kind = LiveScreen if moment.cursor_s is None else ReviewScreen
    app, _, _ = on_stage(moment, kind, moment.glyphs)
    if isinstance(app, ReviewScreen):
        app.put_cursor(moment.cursor_s or 0.0)
    async with shown(app, size) as pilot:
        await settled(app, pilot)
        return pilot.app.export_screenshot()


@pytest.mark.parametrize(
    ("state", "size", "glyphs"), TABLE, ids=lambda value: getattr(value, "name", str(value))
)
async def test_the_screen_looks_as_it_did_when_somebody_looked_at_it(
    state: str, size: tuple[int, int], glyphs: Glyphs, tmp_path: Path
) -> None:
    drawn = await picture(moment_of(state, size[0], glyphs), size)
    name = f"{state}-{size[0]}x{size[1]}.svg"
    if os.environ.get("BATHVIGIL_REDRAW") == "1":
        KEPT.mkdir(exist_ok=True)
        (KEPT / name).write_text(drawn, encoding="utf-8")
    kept = (KEPT / name).read_text(encoding="utf-8")
    if drawn != kept:
        new = tmp_path / name
        new.write_text(drawn, encoding="utf-8")
        pytest.fail(f"{name} has changed: compare with {new}; BATHVIGIL_REDRAW=1 keeps it")


async def test_the_same_moment_gives_the_same_picture() -> None:
    moment = pictures.rising(80)
    assert await picture(moment, (80, 24)) == await picture(moment, (80, 24))


async def test_another_state_gives_another_picture() -> None:
    size = (80, 24)
    assert await picture(pictures.rising(80), size) != await picture(pictures.steady(80), size)
