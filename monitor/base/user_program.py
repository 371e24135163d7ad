"""Runs a program of the user's, for a sound or a notice, by a deadline."""

import os
import signal
import subprocess
import threading
from collections.abc import Sequence
from contextlib import suppress
from functools import partial
from typing import IO

from drivers.base.clock import SystemClock

MOST_KEPT = 65_536
"""Bytes at the end of a program's output."""


def run_program(line: Sequence[str], given: str, within_s: float) -> tuple[int | None, str, str]:
    """Run a program of the user's to its end, or end it and all that it started.

    Returns
    -------
    tuple
        Exit code, stdout and stderr; no code, and the reason, where it had to be ended or cannot
        be run.
    """
    try:
        process = subprocess.Popen(
            line,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            start_new_session=True,
        )
    except (OSError, ValueError) as failure:
        return None, "", f"{line[0]} cannot be run: {getattr(failure, 'strerror', failure)}"
    assert process.stdin is not None
    assert process.stdout is not None
    assert process.stderr is not None
    kept = (bytearray(), bytearray())
    tasks = (
        partial(_give, process.stdin, given),
        partial(_keep_end, process.stdout, kept[0]),
        partial(_keep_end, process.stderr, kept[1]),
    )
    work = [threading.Thread(target=task, daemon=True) for task in tasks]
    for thread in work:
        thread.start()
    clock = SystemClock()
    by_ns = clock.monotonic_ns() + round(within_s * 1e9)

    def left_s() -> float:
        return max(by_ns - clock.monotonic_ns(), 0) / 1e9

    for thread in work:
        thread.join(left_s())
    try:
        code = process.wait(left_s())
        is_done = not any(thread.is_alive() for thread in work)
    except subprocess.TimeoutExpired:
        is_done = False
    if not is_done:
        _end_group(process)
        return None, "", f"no answer within {within_s:g} s"
    out, err = (part.decode("utf-8", "replace") for part in kept)
    return code, out, err


def _keep_end(stream: IO[bytes], kept: bytearray) -> None:
    """Read all, and keep the end: a program may print without end."""
    with stream:
        while chunk := stream.read1(MOST_KEPT):  # type: ignore[attr-defined]  # a buffered pipe
            kept += chunk
            del kept[:-MOST_KEPT]


def _give(stream: IO[bytes], given: str) -> None:
    # A program need not read what it is given.
    with suppress(OSError), stream:
        stream.write(given.encode())


def _end_group(process: "subprocess.Popen[bytes]") -> None:
    if hasattr(os, "killpg"):
        with suppress(OSError):
            os.killpg(process.pid, signal.SIGKILL)
    process.kill()
    process.wait()
