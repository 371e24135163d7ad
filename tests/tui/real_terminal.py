"""A process on a real pseudo-terminal: what it writes, what is typed, and how it leaves it."""

import fcntl
import os
import pty
import select
import struct
import subprocess
import sys
import termios
import time
from contextlib import suppress
from pathlib import Path
from typing import Self

SHOW_CURSOR, LEAVE_SECOND_SCREEN = b"\x1b[?25h", b"\x1b[?1049l"
PATIENCE_S = 20.0

TAKE_TERMINAL = (
    "import os, sys; os.open(os.ttyname(0), os.O_RDWR);"
    " os.execv(sys.executable, [sys.executable, *sys.argv[1:]])"
)
"""Make the terminal the controlling one of the new session, then become the screen."""


UNWANTED = ("LC_ALL", "LC_CTYPE", "COLORTERM", "NO_COLOR", "COLUMNS", "LINES")
"""Of this machine's environment, what would decide in the place of the test."""


def live(store: Path, *more: str) -> list[str]:
    """The arguments of a live screen about the first run."""
    return ["-m", "tui", "live", "--store", str(store), "--run", "1", *more]


class Terminal:
    """A Python process on a pseudo-terminal of its own.

    Parameters
    ----------
    line
        What follows the interpreter's name.
    term, lang, no_colour, colour_term
        What the environment says of the terminal.
    controls
        Whether the terminal is the controlling one of the process.
    """

    def __init__(
        self,
        *line: str,
        term: str = "xterm-256color",
        lang: str = "C.UTF-8",
        no_colour: bool = False,
        controls: bool = True,
        colour_term: str = "",
    ) -> None:
        environ = {name: value for name, value in os.environ.items() if name not in UNWANTED}
        environ |= {"TERM": term, "LANG": lang} | ({"NO_COLOR": "1"} if no_colour else {})
        environ |= {"COLORTERM": colour_term} if colour_term else {}
        self.master, slave = pty.openpty()
        self.resize(80, 24)
        self.before = termios.tcgetattr(slave)
        self.process = subprocess.Popen(
            [sys.executable, *(["-c", TAKE_TERMINAL] if controls else []), *line],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env=environ,
            start_new_session=True,
        )
        os.close(slave)
        self.out = b""

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        with suppress(OSError):
            os.close(self.master)
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()

    def read_until(self, wanted: bytes) -> None:
        """Read what the screen writes until something stands there."""
        while wanted not in self.out:
            ready, _, _ = select.select([self.master], [], [], PATIENCE_S)
            assert ready, f"no {wanted!r} within {PATIENCE_S} s in {self.out[-500:]!r}"
            self.out += os.read(self.master, 65536)

    def read_some(self) -> None:
        """Read what comes within a moment."""
        if select.select([self.master], [], [], 0.02)[0]:
            with suppress(OSError):  # of a terminal that nobody has open any more
                self.out += os.read(self.master, 65536)

    def resize(self, columns: int, rows: int) -> None:
        """Make the terminal of this size; who draws on it is told."""
        fcntl.ioctl(self.master, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    @property
    def modes(self) -> list[object]:
        """How the terminal treats what is typed; to be asked while the master is open."""
        return list(termios.tcgetattr(self.master))

    def drain(self) -> int:
        """Read what there still is, leaving the terminal open; the exit code."""
        until_s = time.monotonic() + PATIENCE_S
        is_over = False
        while not is_over:
            assert time.monotonic() < until_s, "it did not end"
            is_over = self.process.poll() is not None
            self.read_some()
        return self.process.wait()

    def end(self) -> int:
        """Read to the end; the exit code."""
        while True:
            try:
                more = os.read(self.master, 65536)
            except OSError:
                more = b""
            if not more:
                break
            self.out += more
        os.close(self.master)
        return self.process.wait(PATIENCE_S)
