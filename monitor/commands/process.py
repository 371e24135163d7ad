"""What a command that stays needs: output that holds nothing up, and an end by a signal."""

import io
import signal
from collections.abc import Callable
from threading import Event
from types import FrameType
from typing import TextIO

import click

from drivers.base.inert import harmless
from monitor.base.aside import Aside
from monitor.base.program import COMPLAINT

MOST_LINES = 4_000
"""Lines that wait for a reader: an hour of talk, or ten minutes of JSON."""
FULL_S = 0.05
"""Wait before a stream that takes nothing for now is tried again."""


def say(sentence: str) -> None:
    """Write a line to stderr; the work goes on even if stderr is closed."""
    try:
        click.echo(f"{COMPLAINT}{sentence}", err=True)
    except OSError:
        return


def unread(lines: int) -> str:
    """The words for lines that nobody read in time."""
    return f"{lines} lines were left out here, since nobody read them; all readings are stored"


class Outlet:
    """Lines for stdout or stderr. A reader that stops reading holds nobody up.

    Parameters
    ----------
    stream
        Where the lines go.
    left_out
        Makes the line that counts what did not fit while nobody read.
    """

    def __init__(self, name: str, stream: TextIO, left_out: Callable[[int], str]) -> None:
        self._stream = stream
        self._left_out = left_out
        self._aside: Aside[str] = Aside(name, self._write, self._tell_left_out, MOST_LINES)
        self._aside.start()

    def put(self, line: str) -> None:
        """Take a line without its end; never waits. Nothing in it steers a terminal."""
        self._aside.put(harmless(line))

    def close(self) -> int:
        """Write what is left, as long as somebody reads; the number of lines that are not read."""
        return self._aside.close()

    def _tell_left_out(self, count: int) -> None:
        self._write(self._left_out(count))

    def _write(self, line: str) -> None:
        try:
            binary = self._stream.buffer
            # Past the buffer: its lock, held by a write that hangs, would hang the program's end.
            raw = getattr(binary, "raw", None)
            if not isinstance(raw, io.RawIOBase):
                raise AttributeError
        except AttributeError:
            # A stream that is no file, as tests have it.
            self._stream.write(f"{line}\n")
            return
        encoded = f"{line}\n".encode(self._stream.encoding, "backslashreplace")
        try:
            while encoded:
                taken = raw.write(encoded)
                if taken is None:
                    Event().wait(FULL_S)
                encoded = encoded[taken or 0 :]
        except (OSError, ValueError):
            # Nobody reads any more; the run goes on all the same.
            return


def stop_on_signals(stop: Callable[[], object]) -> None:
    """End cleanly on TERM and INT; outlive the terminal and the reader of stdout.

    Neither Ctrl-Z nor a terminal that refuses a background job's words may stop the watch.
    """

    def end(number: int, frame: FrameType | None) -> None:
        stop()

    signal.signal(signal.SIGTERM, end)
    signal.signal(signal.SIGINT, end)
    for name in ("SIGHUP", "SIGPIPE", "SIGTSTP", "SIGTTIN", "SIGTTOU"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)
