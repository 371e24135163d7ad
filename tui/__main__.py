"""`python -m tui live|review --store FILE --run N`: what the commands start as a child process."""

import argparse
import os
import sys
from pathlib import Path

from drivers.clock import SystemClock, boot_id
from monitor.errors import BathvigilError
from monitor.store.reader import open_store
from tui.glyphs import SETS, GlyphName, Glyphs, suitable
from tui.live import LiveApp
from tui.look import StoreSource
from tui.review import ReviewApp

SCREENS: dict[str, type[LiveApp] | type[ReviewApp]] = {"live": LiveApp, "review": ReviewApp}

LAST_WORDS_S = 2.0
"""How long what was asked just before the screen closed may take to be dropped."""


def main(arguments: list[str] | None = None) -> int:
    """Show a screen until it is closed; the exit code."""
    asked = _parser().parse_args(arguments)
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        return _refuse("the screen needs a terminal; without one, use `bathvigil record` or `runs`")
    try:
        with open_store(asked.store) as store:
            store.run(asked.run)
    except BathvigilError as error:
        return _refuse(str(error))
    source = StoreSource(asked.store, asked.run)
    app = SCREENS[asked.screen](source, SystemClock(), boot_id(), _glyphs(asked.glyphs))
    app.run(mouse=False)
    app.lookout.join(LAST_WORDS_S)
    return app.return_code or 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tui", description="The screens of bathvigil.")
    parser.add_argument("screen", choices=list(SCREENS))
    parser.add_argument("--store", type=Path, required=True, help="the store of runs")
    parser.add_argument("--run", type=int, required=True, help="number of the run")
    parser.add_argument(
        "--glyphs",
        choices=["auto", *(name.value for name in GlyphName)],
        default="auto",
        help="what to draw with; auto goes by the terminal and the locale",
    )
    return parser


def _glyphs(name: str) -> Glyphs:
    return suitable(os.environ) if name == "auto" else SETS[GlyphName(name)]


def _refuse(text: str) -> int:
    sys.stderr.write(f"{text}\n")
    return 1


if __name__ == "__main__":
    sys.exit(main())
