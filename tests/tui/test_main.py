"""The screen as a process on a real terminal: it starts, and gives the terminal back."""

import os
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest

from drivers.base.clock import SystemClock
from monitor.store.writer import StoreWriter
from tests.tui import pictures
from tests.tui.real_terminal import (
    LEAVE_SECOND_SCREEN,
    PATIENCE_S,
    Terminal,
    live,
)
from tests.tui.test_look import sample
from tui.__main__ import main


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Path]:
    path = tmp_path / "bathvigil.db"
    with StoreWriter(path) as writer:
        row = writer.begin_run(pictures.FACTS, clock=SystemClock(), program="bathvigil 0.1.0")
        writer.write([(row.run, sample(seq, 9.0)) for seq in range(5)])
        yield path


def test_a_key_closes_the_screen(store: Path) -> None:
    terminal = Terminal(*live(store))
    terminal.read_until(b"bench-1")
    os.write(terminal.master, b"q")
    assert terminal.end() == 0
    assert LEAVE_SECOND_SCREEN in terminal.out


@pytest.mark.parametrize("controls", [True, False], ids=["with a HUP", "without one"])
def test_a_terminal_that_is_gone_ends_the_screen(store: Path, controls: bool) -> None:
    terminal = Terminal(*live(store), controls=controls)
    terminal.read_until(b"bench-1")
    os.close(terminal.master)
    terminal.process.wait(PATIENCE_S)


STUCK = """
import threading
from tui.last_look import LastLook
LastLook(every_s=0.05).start()
print("waits", flush=True)
threading.Event().wait()
"""


def test_a_terminal_that_is_gone_ends_a_screen_whose_loop_is_stuck() -> None:
    terminal = Terminal("-c", STUCK, controls=False)
    terminal.read_until(b"waits\r\n")
    os.close(terminal.master)
    assert terminal.process.wait(PATIENCE_S) == 128 + signal.SIGHUP


def test_a_plain_terminal_gets_plain_ascii(store: Path) -> None:
    terminal = Terminal(*live(store), term="vt100")
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
    terminal = Terminal(*live(store if path is None else Path(path), "--run", run))
    assert terminal.end() == 1
    assert told in terminal.out
    assert terminal.out.count(b"\n") == 1
