"""A recorder without a terminal rings the bells that screens lend; it knows whether one rang."""

import os
import pty
import select
import signal
import subprocess
import sys
import termios
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.model.alarm import Priority
from monitor.recorder.sound import players
from monitor.recorder.sound.bells import lends_its_bell, lent_bells, ring
from monitor.recorder.sound.players import BellPlayer, SoundFailed

LEND = """
import sys
from pathlib import Path
from monitor.recorder.sound.bells import lends_its_bell
with lends_its_bell(Path(sys.argv[1])):
    print("lent", flush=True)
    sys.stdin.read()
"""


class Window:
    """A terminal in which a process lends its bell to a store's recorder."""

    def __init__(self, store: Path) -> None:
        self.master, slave = pty.openpty()
        self.terminal = Path(os.ttyname(slave))
        self.process = subprocess.Popen(
            [sys.executable, "-c", LEND, str(store)],
            stdin=slave,
            stdout=subprocess.PIPE,
            start_new_session=True,
        )
        os.close(slave)
        assert self.process.stdout is not None
        assert self.process.stdout.readline() == b"lent\n"

    def heard(self) -> bytes:
        """What the terminal was sent; what is on its way may take a moment."""
        sent = b""
        while select.select([self.master], [], [], 0.2)[0]:
            sent += os.read(self.master, 100)
        return sent

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(20)
        if self.process.stdout is not None:
            self.process.stdout.close()


@pytest.fixture
def store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    # Whoever runs these tests sits at a terminal of their own.
    monkeypatch.setattr(players, "OWN", tmp_path / "no terminal")
    return tmp_path / "runs.db"


@pytest.fixture
def window(store: Path) -> Iterator[Window]:
    one = Window(store)
    yield one
    one.kill()
    os.close(one.master)


def test_a_lent_bell_rings_by_the_priority_and_is_named(store: Path, window: Window) -> None:
    player = BellPlayer(store)
    assert player.play(Priority.LOW, 3.0) == f"the bell of {window.terminal}"
    assert window.heard() == b"\a"
    player.play(Priority.CRITICAL, 3.0)
    assert window.heard() == b"\a\a\a"


def test_two_windows_ring_both(store: Path, window: Window) -> None:
    other = Window(store)
    assert len(lent_bells(store)) == 2
    BellPlayer(store).play(Priority.LOW, 3.0)
    assert (window.heard(), other.heard()) == (b"\a", b"\a")
    other.kill()
    os.close(other.master)


def test_without_a_window_the_sound_has_failed_and_says_so(store: Path) -> None:
    with pytest.raises(SoundFailed, match="no terminal to ring"):
        BellPlayer(store).play(Priority.HIGH, 3.0)


def test_a_killed_window_is_passed_over_and_its_note_cleared_away(
    store: Path, window: Window
) -> None:
    assert list(store.parent.glob("runs.db.bell-*"))
    window.kill()
    assert lent_bells(store) == []
    assert not list(store.parent.glob("runs.db.bell-*"))


def test_a_window_that_closes_takes_its_note_with_it(store: Path, window: Window) -> None:
    assert window.process.stdin is None
    # End of input at the terminal: Ctrl-D.
    os.write(window.master, b"\x04")
    assert window.process.wait(20) == 0
    assert not list(store.parent.glob("runs.db.bell-*"))


def test_a_terminal_that_takes_nothing_holds_nobody_up(store: Path) -> None:
    master, slave = pty.openpty()
    terminal = Path(os.ttyname(slave))
    os.set_blocking(slave, False)
    # As by Ctrl-S: what is written is held back, until nothing more is taken.
    termios.tcflow(slave, termios.TCOOFF)
    assert ring([terminal]) == []
    os.close(master)
    os.close(slave)


def test_without_a_terminal_nothing_is_lent(store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def none(descriptor: int) -> str:
        raise OSError(25, "Inappropriate ioctl for device")

    monkeypatch.setattr(os, "ttyname", none)
    with lends_its_bell(store):
        assert lent_bells(store) == []
