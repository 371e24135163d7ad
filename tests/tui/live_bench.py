"""The live screen on a stage, with a still source and a still clock."""

from textual.pilot import Pilot

from tests.tui import pictures
from tests.tui.stage import (
    StillClock,
    StillSource,
    on_stage,
    text_of,
    until,
)
from tui.desk import Desk
from tui.glyphs import ASCII
from tui.live import LiveScreen
from tui.moment import Moment
from tui.run_screen import RunScreen

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
