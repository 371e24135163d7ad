"""`python -m tui live|review|overview|runs`: what the commands start as a child process."""

import argparse
import os
import sys
import threading
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

from drivers.base.clock import SystemClock, boot_id
from monitor.base.errors import BathvigilError
from monitor.store.reader import open_store
from tui.card import CardScreen
from tui.desk import Desk
from tui.glyphs import SETS, GlyphName, Glyphs, suitable
from tui.last_look import LastLook
from tui.live import LiveScreen
from tui.look import StoreSource
from tui.lookout import Lookout
from tui.review import ReviewScreen
from tui.sheet_screen import SheetScreen

CANNOT = ("dumb", "unknown")
"""Kinds of terminal that cannot put text where it belongs."""

LAST_WORDS_S = 2.0
"""How long what was asked just before the screen closed may take to be dropped."""


def main(arguments: list[str] | None = None) -> int:
    """Show screens until they are closed; the exit code."""
    asked = _parser().parse_args(arguments)
    is_served = os.environ.get("TEXTUAL_DRIVER", "").endswith("WebDriver")
    if asked.serve is not None:
        from tui.serving import serve

        return serve(_of_a_tab(asked), asked.serve, asked.may_act, asked.begun_by)
    if not is_served and not (sys.stdin.isatty() and sys.stderr.isatty()):
        return _refuse("the screen needs a terminal; without one, use `bathvigil record` or `runs`")
    if not is_served and os.environ.get("TERM") in CANNOT:
        return _refuse(
            f"a terminal of the kind {os.environ['TERM']!r} cannot show a screen: set TERM to its "
            "real kind, or use `bathvigil record` and `bathvigil runs`"
        )
    try:
        with open_store(asked.store) as store:
            if asked.run is not None:
                store.run(asked.run)
    except BathvigilError as error:
        return _refuse(str(error))
    app = Desk(*_screens(asked), begun_by=asked.begun_by)
    last_look = LastLook()
    if not is_served:  # a browser's screen has no terminal to lose
        last_look.start()
    # Textual keeps what a library prints off its screen, but not until the terminal is given back.
    with Path(os.devnull).open("w") as nowhere, redirect_stdout(nowhere), redirect_stderr(nowhere):
        app.run(mouse=False)
        last_look.stop()
        for thread in threading.enumerate():
            if isinstance(thread, Lookout):
                thread.join(LAST_WORDS_S)
    return app.return_code or 0


def _of_a_tab(asked: argparse.Namespace) -> list[str]:
    """The arguments of one browser tab's own process."""
    run = [] if asked.run is None else ["--run", str(asked.run)]
    card = ["--card"] if asked.card else []
    return [asked.screen, "--store", str(asked.store), *run, *card]


def _screens(asked: argparse.Namespace) -> list[SheetScreen]:
    """The screens to begin with, the lowest first."""
    clock, boot, glyphs = SystemClock(), boot_id(), _glyphs(asked.glyphs)
    if asked.screen == "overview":
        from tui.bench import BenchSource
        from tui.overview import OverviewScreen

        return [OverviewScreen(BenchSource(asked.store), clock, boot, glyphs, asked.card)]
    if asked.screen == "runs":
        from tui.archive import ArchiveSource
        from tui.run_list import RunListScreen

        return [RunListScreen(ArchiveSource(asked.store), clock, boot, glyphs)]
    source = StoreSource(asked.store, asked.run)
    if asked.screen == "review":
        return [ReviewScreen(source, clock, boot, glyphs)]
    live = LiveScreen(source, clock, boot, glyphs)
    return [live, CardScreen(source, clock, glyphs)] if asked.card else [live]


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tui", description="The screens of bathvigil.")
    parser.add_argument("screen", choices=["live", "review", "overview", "runs"])
    parser.add_argument("--store", type=Path, required=True, help="the store of runs")
    parser.add_argument("--run", type=int, help="number of the run, for live and review")
    parser.add_argument("--card", action="store_true", help="ask for the job card first")
    parser.add_argument("--serve", metavar="HOST:PORT", help="show it in browsers instead")
    parser.add_argument("--may-act", action="store_true", help="let browsers do more than look")
    parser.add_argument(
        "--begun-by", type=int, metavar="PID", help="leave when this is not the parent any more"
    )
    parser.add_argument(
        "--glyphs",
        choices=["auto", *(name.value for name in GlyphName)],
        default="auto",
        help="what to draw with; auto goes by the terminal and the locale",
    )
    return parser


def _glyphs(name: str) -> Glyphs:
    if name == "auto":
        return suitable(os.environ)
    return SETS[GlyphName(name)]


def _refuse(text: str) -> int:
    sys.stderr.write(f"{text}\n")
    return 1


if __name__ == "__main__":
    sys.exit(main())
