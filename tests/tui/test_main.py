"""The screen as a process on a real terminal: it starts, and gives the terminal back."""

import os
import pty
import select
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from drivers.clock import SystemClock
from monitor.store.writer import StoreWriter
from tests.tui import pictures
from tests.tui.test_look import sample
from tui.__main__ import main

SHOW_CURSOR, LEAVE_SECOND_SCREEN = b"\x1b[?25h", b"\x1b[?1049l"
PATIENCE_S = 20.0

TAKE_TERMINAL = (
    "import os, sys; os.open(os.ttyname(0), os.O_RDWR);"
    " os.execv(sys.executable, [sys.executable, *sys.argv[1:]])"
)
"""Make the terminal the controlling one of the new session, then become the screen."""


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Path]:
    path = tmp_path / "bathvigil.db"
    with StoreWriter(path) as writer:
        row = writer.begin_run(pictures.FACTS, clock=SystemClock(), program="bathvigil 0.1.0")
        writer.write([(row.run, sample(seq, 9.0)) for seq in range(5)])
        yield path


class Terminal:
    """A screen's process on a pseudo-terminal of its own."""

    def __init__(
        self, store: Path, *more: str, term: str = "xterm-256color", controls: bool = True
    ) -> None:
        screen = ["-m", "tui", "live", "--store", str(store), "--run", "1", *more]
        environ = {**os.environ, "TERM": term, "LANG": "C.UTF-8", "COLUMNS": "80", "LINES": "24"}
        environ.pop("LC_ALL", None)
        self.master, slave = pty.openpty()
        self.process = subprocess.Popen(
            [sys.executable, *(["-c", TAKE_TERMINAL] if controls else []), *screen],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env=environ,
            start_new_session=True,
        )
        os.close(slave)
        self.out = b""

    def read_until(self, wanted: bytes) -> None:
        """Read what the screen writes until something stands there."""
        while wanted not in self.out:
            ready, _, _ = select.select([self.master], [], [], PATIENCE_S)
            assert ready, f"no {wanted!r} within {PATIENCE_S} s in {self.out[-500:]!r}"
            self.out += os.read(self.master, 65536)

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


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP", "SIGINT", "SIGABRT"])
def test_a_signal_closes_the_screen_and_gives_the_terminal_back(store: Path, name: str) -> None:
    number = getattr(signal, name)
    terminal = Terminal(store)
    terminal.read_until(b"bench-1")
    terminal.process.send_signal(number)
    assert terminal.end() == 128 + number
    assert SHOW_CURSOR in terminal.out
    assert LEAVE_SECOND_SCREEN in terminal.out


def test_a_key_closes_the_screen(store: Path) -> None:
    terminal = Terminal(store)
    terminal.read_until(b"bench-1")
    os.write(terminal.master, b"q")
    assert terminal.end() == 0
    assert LEAVE_SECOND_SCREEN in terminal.out


@pytest.mark.parametrize("controls", [True, False], ids=["with a HUP", "without one"])
def test_a_terminal_that_is_gone_ends_the_screen(store: Path, controls: bool) -> None:
    terminal = Terminal(store, controls=controls)
    terminal.read_until(b"bench-1")
    os.close(terminal.master)
    terminal.process.wait(PATIENCE_S)


def test_a_plain_terminal_gets_plain_ascii(store: Path) -> None:
    terminal = Terminal(store, term="vt100")
    terminal.read_until(b"bench-1")
    os.write(terminal.master, b"q")
    assert terminal.end() == 0
    assert terminal.out.isascii()


@pytest.mark.parametrize("screen", ["live", "review"])
def test_without_a_terminal_it_refuses_with_one_line(
    store: Path, screen: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([screen, "--store", str(store), "--run", "1"]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert "needs a terminal" in told.err


@pytest.mark.parametrize(
    ("run", "path", "told"),
    [("7", None, b"holds no run 7"), ("1", "/nowhere/x.db", b"there is no such store")],
    ids=["no such run", "no such store"],
)
def test_what_cannot_be_shown_is_told_in_one_line(
    store: Path, run: str, path: str | None, told: bytes
) -> None:
    terminal = Terminal(store if path is None else Path(path), "--run", run)
    assert terminal.end() == 1
    assert told in terminal.out
    assert terminal.out.count(b"\n") == 1
