"""A screen's process on a pseudo-terminal, timed from outside, for the screens' benchmarks."""

import os
import pty
import select
import subprocess
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

SIZE = (120, 40)
PATIENCE_S = 30.0


@contextmanager
def on_terminal(line: Sequence[str]) -> Iterator[tuple["subprocess.Popen[bytes]", int]]:
    """A process, and the master's end of its terminal."""
    master, slave = pty.openpty()
    size = {"COLUMNS": str(SIZE[0]), "LINES": str(SIZE[1])}
    process = subprocess.Popen(
        line,
        stdin=slave,
        stdout=slave,
        stderr=slave,
        start_new_session=True,
        env={**os.environ, **size, "TERM": "xterm-256color", "LANG": "C.UTF-8"},
    )
    os.close(slave)
    try:
        yield process, master
    finally:
        if process.poll() is None:
            process.terminate()
        drain(master, 0.2)
        process.wait(10)
        os.close(master)


def drain(master: int, seconds: float) -> bytes:
    """What comes within so long."""
    out, until = b"", time.monotonic() + seconds
    while (left := until - time.monotonic()) > 0:
        ready, _, _ = select.select([master], [], [], left)
        if ready:
            try:
                out += os.read(master, 65_536)
            except OSError:
                break
    return out


def wait_for(master: int, words: bytes) -> None:
    """Read until words have come.

    Raises
    ------
    SystemExit
        They never came.
    """
    seen = b""
    while words not in seen:
        ready, _, _ = select.select([master], [], [], PATIENCE_S)
        if not ready:
            raise SystemExit(f"the screen never showed {words!r}")
        seen = seen[-4096:] + os.read(master, 65_536)
