"""The screen as a child process: it may crash or be killed, and we give the terminal back."""

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from types import FrameType
from typing import TypeVar

import click

from drivers.base.clock import SystemClock
from monitor.base.errors import BathvigilError, WrongUse
from monitor.base.program import own_command
from monitor.commands.options import WholeNumber, together

GIVE_BACK = "\x1b[?1049l\x1b[?25h\x1b[?1000l\x1b[?1002l\x1b[?1003l\x1b[?1006l\x1b[?2004l\x1b[0m"
"""Leave the alternate screen, show the cursor, end mouse and paste reports, plain text."""

LOOPBACK = "127.0.0.1"
PORT = 8137

LOOK_EVERY_S = 0.1
LEAVE_WITHIN_S = 5.0
"""A screen that was asked to leave gets this long; then it is killed."""
ENDED_BY = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]

R = TypeVar("R")


def has_terminal() -> bool:
    """Whether we run in a terminal that can show a screen; the screen is written to stderr."""
    return sys.stdin.isatty() and sys.stdout.isatty() and sys.stderr.isatty()


@dataclass(frozen=True, slots=True)
class Browsers:
    """Where a screen is served to browsers, HOST:PORT, and whether they may do more than look."""

    place: str
    may_act: bool


def need_terminal(place: Browsers | None) -> None:
    """Raise BathvigilError where a screen has neither a terminal nor a place for browsers."""
    if place is None and not has_terminal():
        raise BathvigilError(
            "the screen needs a terminal; without one, use `bathvigil record` and `bathvigil runs`"
        )


def shows_in_browser(function: Callable[..., R]) -> Callable[..., R]:
    """Give a command the options for browsers, as one `place: Browsers | None`."""

    @wraps(function)
    def placed(in_browser: bool, port: int, listen_on: str, may_act: bool, **given: object) -> R:
        if not in_browser and (listen_on != LOOPBACK or may_act):
            raise WrongUse("--listen-on and --may-act go with --in-browser")
        place = Browsers(f"{listen_on}:{port}", may_act) if in_browser else None
        return function(place=place, **given)

    return together(
        click.option("--in-browser", is_flag=True, help="Show the screen in a browser instead."),
        click.option(
            "--port",
            type=WholeNumber(1, 65535),
            default=PORT,
            show_default=True,
            metavar="N",
            help="The port for browsers.",
        ),
        click.option(
            "--listen-on",
            metavar="ADDRESS",
            default=LOOPBACK,
            show_default=True,
            help="Browsers in this network can ask for the screen.",
        ),
        click.option(
            "--may-act",
            is_flag=True,
            help="Let browsers acknowledge, mark and end runs. Else they only look.",
        ),
    )(placed)


def show(kind: str, store: Path, run: int | None, *more: str, place: Browsers | None = None) -> int:
    """Show a screen until it is closed: "live", "review", "overview" or "runs".

    Parameters
    ----------
    run
        For "live" and "review".
    place
        Where to serve it to browsers; None for this terminal.

    Raises
    ------
    BathvigilError
        Where there is no terminal.
    """
    need_terminal(place)
    line = own_command("tui", kind, "--store", str(store.absolute()), *more)
    line += [] if run is None else ["--run", str(run)]
    if place is not None:
        line += ["--serve", place.place, *(["--may-act"] if place.may_act else [])]
    if sys.platform != "win32":
        # It leaves when its parent is another: we may be killed before it can look.
        line += ["--begun-by", str(os.getpid())]
    before = _terminal_settings()
    code = run_to_its_end(line)
    if code != 0 and place is None:
        _give_back(before)
    return code if code >= 0 else 128 - code


def run_to_its_end(line: list[str]) -> int:
    """Run a screen or a page to its end; its return code. A signal that would end us ends it.

    The handlers stand before the screen starts, so no signal finds a screen without them.
    """
    signals: list[int] = []

    def keep(number: int, frame: FrameType | None) -> None:
        del frame
        signals.append(number)

    leave_by_ns: int | None = None
    clock = SystemClock()
    with _handlers(keep):
        process = subprocess.Popen(line)
        while True:
            while signals:
                process.send_signal(signals.pop(0))
                leave_by_ns = leave_by_ns or clock.monotonic_ns() + round(LEAVE_WITHIN_S * 1e9)
            if leave_by_ns is not None and clock.monotonic_ns() > leave_by_ns:
                process.kill()
            try:
                # Not for ever: a signal just before the system's wait does not interrupt it, and
                # its handler would run when the screen has ended by itself.
                return process.wait(LOOK_EVERY_S)
            except (subprocess.TimeoutExpired, KeyboardInterrupt):
                continue


@contextmanager
def _handlers(handler: Callable[[int, FrameType | None], None]) -> Iterator[None]:
    """Handle what ends a command, while the context lasts."""
    before = {number: signal.signal(number, handler) for number in ENDED_BY}
    try:
        yield
    finally:
        for number, one_before in before.items():
            signal.signal(number, one_before)


@contextmanager
def unwinds_on_signals() -> Iterator[None]:
    """Let a signal that ends a command unwind it, so that it ends what it has started."""

    def leave(number: int, frame: FrameType | None) -> None:
        del frame
        raise SystemExit(128 + number)

    with _handlers(leave):
        yield


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
