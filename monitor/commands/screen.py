"""A store and a run in, the screen's process and its exit code out.

The screen is a child process: it may crash or be killed, and this one gives the terminal back.
"""

import subprocess
import sys
from pathlib import Path

from monitor.errors import BathvigilError

GIVE_BACK = "\x1b[?1049l\x1b[?25h\x1b[?1000l\x1b[?1002l\x1b[?1003l\x1b[?1006l\x1b[?2004l\x1b[0m"
"""Leave the alternate screen, show the cursor, end mouse and paste reports, plain text."""


def has_terminal() -> bool:
    """Whether a person looks at us through a terminal that a screen can use."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def show(kind: str, store: Path, run: int, *more: str) -> int:
    """Show the live screen ("live") or the review of a run ("review") until it is closed.

    Raises
    ------
    BathvigilError
        Where there is no terminal.
    """
    if not has_terminal():
        raise BathvigilError("the screen needs a terminal; without one, use `record` and `runs`")
    line = [sys.executable, "-m", "tui", kind, "--store", str(store), "--run", str(run), *more]
    before = _terminal_settings()
    process = subprocess.Popen(line)
    while True:
        try:
            code = process.wait()
            break
        except KeyboardInterrupt:
            continue
    if code != 0:
        _give_back(before)
    return code if code >= 0 else 128 - code


def _terminal_settings() -> list[object] | None:
    if sys.platform == "win32":
        return None
    import termios

    try:
        return list(termios.tcgetattr(sys.stdin.fileno()))
    except termios.error:
        return None


def _give_back(before: list[object] | None) -> None:
    if sys.platform == "win32" or before is None:
        return
    import termios

    try:
        termios.tcsetattr(sys.stdin.fileno(), termios.TCSANOW, before)  # type: ignore[arg-type]
        sys.stdout.write(GIVE_BACK)
        sys.stdout.flush()
    except (termios.error, OSError):
        # The terminal itself is gone.
        return
