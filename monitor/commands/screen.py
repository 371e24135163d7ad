"""A store and a run in, the screen's process and its exit code out.

The screen is a child process: it may crash or be killed, and this one gives the terminal back.
"""

import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import wraps
from pathlib import Path
from types import FrameType
from typing import TypeVar

import click

from monitor.base.errors import BathvigilError, WrongUse
from monitor.base.program import own_command

GIVE_BACK = "\x1b[?1049l\x1b[?25h\x1b[?1000l\x1b[?1002l\x1b[?1003l\x1b[?1006l\x1b[?2004l\x1b[0m"
"""Leave the alternate screen, show the cursor, end mouse and paste reports, plain text."""

LOOPBACK = "127.0.0.1"
PORT = 8137

R = TypeVar("R")


def has_terminal() -> bool:
    """Whether a person looks at us through a terminal that a screen can use.

    The screen itself is written to stderr.
    """
    return sys.stdin.isatty() and sys.stdout.isatty() and sys.stderr.isatty()


def shows_in_browser(function: Callable[..., R]) -> Callable[..., R]:
    """Give a command the options that show its screen in browsers, as one `place: str | None`."""

    @wraps(function)
    def placed(in_browser: bool, port: int, listen_on: str, **given: object) -> R:
        if not in_browser and listen_on != LOOPBACK:
            raise WrongUse("--listen-on goes with --in-browser")
        return function(place=f"{listen_on}:{port}" if in_browser else None, **given)

    collected: Callable[..., R] = placed
    for decorate in (
        click.option(
            "--listen-on",
            metavar="ADDRESS",
            default=LOOPBACK,
            show_default=True,
            help="Whoever reaches another address than this machine's own can end runs.",
        ),
        click.option(
            "--port",
            type=click.IntRange(1, 65535),
            default=PORT,
            show_default=True,
            help="Where a browser finds it.",
        ),
        click.option("--in-browser", is_flag=True, help="Show the screen in browsers instead."),
    ):
        collected = decorate(collected)
    return collected


def show(kind: str, store: Path, run: int | None, *more: str, place: str | None = None) -> int:
    """Show a screen until it is closed: "live", "review", "overview" or "runs".

    Parameters
    ----------
    run
        For "live" and "review".
    place
        HOST:PORT to serve it on for browsers; None for this terminal.

    Raises
    ------
    BathvigilError
        Where there is no terminal.
    """
    if place is None and not has_terminal():
        raise BathvigilError("the screen needs a terminal; without one, use `record` and `runs`")
    line = own_command("tui", kind, "--store", str(store.absolute()), *more)
    line += [] if run is None else ["--run", str(run)]
    line += [] if place is None else ["--serve", place]
    before = _terminal_settings()
    process = subprocess.Popen(line)
    with _passing_on_signals(process):
        while True:
            try:
                code = process.wait()
                break
            except KeyboardInterrupt:
                continue
    if code != 0 and place is None:
        _give_back(before)
    return code if code >= 0 else 128 - code


@contextmanager
def _passing_on_signals(process: "subprocess.Popen[bytes]") -> Iterator[None]:
    """End the screen with whoever started it, so that none is left without a terminal."""

    def pass_on(number: int, frame: FrameType | None) -> None:
        del frame
        with suppress(OSError):
            process.send_signal(number)

    names = [name for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {name: signal.signal(getattr(signal, name), pass_on) for name in names}
    try:
        yield
    finally:
        for name, handler in before.items():
            signal.signal(getattr(signal, name), handler)


def _terminal_settings() -> list[object] | None:
    if sys.platform == "win32":
        return None
    import termios

    try:
        return list(termios.tcgetattr(sys.stdin.fileno()))
    except (termios.error, OSError, ValueError):
        return None


def _give_back(before: list[object] | None) -> None:
    if sys.platform == "win32" or before is None:
        return
    import termios

    try:
        # tcgetattr's own list, which typeshed types by its parts.
        termios.tcsetattr(sys.stdin.fileno(), termios.TCSANOW, before)  # type: ignore[arg-type]
        sys.stderr.write(GIVE_BACK)
        sys.stderr.flush()
    except (termios.error, OSError):
        # The terminal itself is gone.
        return
