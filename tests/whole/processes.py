"""The real programs as processes, started and ended by tests: simulator, recorder, commands."""

import io
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TypeVar, cast

from monitor.commands.main import run

PATIENCE_S = 30.0
"""Longest wait for anything here; only a hang is caught by it."""

STARTED: "list[subprocess.Popen[str]]" = []
"""What `start` began; the fixtures of this folder end what a test leaves behind."""

T = TypeVar("T")
Fact = dict[str, str | float | int | None]


def wait_until(what: str, look: Callable[[], T | None], patience_s: float = PATIENCE_S) -> T:
    """Look again and again until something is there; its value."""
    give_up = time.monotonic() + patience_s
    while time.monotonic() < give_up:
        found = look()
        if found is not None and found is not False:
            return found
        time.sleep(0.02)
    raise AssertionError(f"waited {patience_s:g} s for {what}")


@contextmanager
def simulator(
    scene: str, link: str, speed: float, log: Path | None = None
) -> Iterator[tuple[str, "subprocess.Popen[str]"]]:
    """A simulated supply; its address and its process.

    On a pseudo-terminal it has a name of its own: the system soon gives the terminal's number to
    another test, and a recorder that is left without its supply would ask that one.
    """
    line = [sys.executable, "-m", "simulators", "--scene", scene, "--link", link]
    line += ["--speed", str(speed), *([] if log is None else ["--log", str(log)])]
    with TemporaryDirectory(prefix="supply-") as folder:
        name = f"{folder}/port"
        if link.endswith("-serial"):
            line += ["--link-name", name]
        process = subprocess.Popen(line, stdout=subprocess.PIPE, text=True)
        try:
            assert process.stdout is not None
            address = process.stdout.readline().strip()
            if link.endswith("-serial"):
                address = f"{address.partition(':')[0]}:{name}"
            yield address, process
        finally:
            process.terminate()
            process.wait(PATIENCE_S)
            if process.stdout is not None:
                process.stdout.close()


def bathvigil(*arguments: str | Path) -> "subprocess.CompletedProcess[str]":
    """Run one command to its end."""
    return subprocess.run(
        command_line(*arguments),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        stdin=subprocess.DEVNULL,
    )


def in_process(*arguments: str | Path) -> "subprocess.CompletedProcess[str]":
    """Run one command to its end, in this process: where nothing depends on its having its own.

    It takes a fraction of the processor time. Not for `record` and `forward`, which set signal
    handlers, nor for what opens a screen.
    """
    out, err = io.StringIO(), io.StringIO()
    line = [*map(str, arguments)]
    with redirect_stdout(out), redirect_stderr(err):
        code = run(line)
    return subprocess.CompletedProcess(line, code, out.getvalue(), err.getvalue())


def command_line(*arguments: str | Path) -> list[str]:
    """The command line of one command."""
    return [sys.executable, "-m", "bathvigil", *map(str, arguments)]


def start(*arguments: str | Path) -> "subprocess.Popen[str]":
    """Start one command in a session of its own; its stdout and stderr are pipes."""
    process = subprocess.Popen(
        command_line(*arguments),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )
    STARTED.append(process)
    return process


def lines_of(text: str) -> list[Fact]:
    """JSON Lines as dictionaries."""
    return [cast(Fact, json.loads(line)) for line in text.splitlines()]
