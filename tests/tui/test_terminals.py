"""Kinds of terminals, and the terminal given back however the screen ends."""

import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from drivers.base.clock import SystemClock
from monitor.store.writer import StoreWriter
from tests.tui import pictures
from tests.tui.fuzz import Fuzz
from tests.tui.real_terminal import (
    LEAVE_SECOND_SCREEN,
    PATIENCE_S,
    SHOW_CURSOR,
    Terminal,
    live,
)
from tests.tui.test_look import sample

END_PASTE, END_MOUSE = b"\x1b[?2004l", b"\x1b[?1000l"
STOPPED = b"RECORDER STOPPED"
SGR = re.compile(rb"\x1b\[([0-9;]*)m")
ESCAPES = re.compile(rb"\x1b(\[[0-?]*[ -/]*[@-~]|\][^\x07]*\x07|P[^\x1b]*\x1b\\|[=>])")
"""Control sequences, strings and the keypad's modes, by ECMA-48, clauses 5.4 and 5.6, and DEC."""
GREY_OF_16 = {0, 7, 8, 15}
GREY_OF_256 = {16, 59, 102, 145, 188, 231, *range(232, 256)}
"""The 6 x 6 x 6 cube's diagonal and the ramp of the usual palette of 256."""

KINDS = [
    pytest.param(
        *(term, colour_term, no_colour, ("C", "C.UTF-8")[(at // 2 + one) % 2]),
        marks=[pytest.mark.trial] if (at + one + two) % 2 else [],
    )
    for at, term in enumerate(("linux", "xterm", "xterm-256color", "vt100", "screen"))
    for one, colour_term in enumerate(("", "truecolor"))
    for two, no_colour in enumerate((False, True))
]
"""Each kind, said to know all colours or not, with NO_COLOR and without; either locale in turn.

`make test` draws each kind with each of them once, `make trials` with the others.
"""

BREAKS = """
import sys
from tui.look import StoreSource
def look(self, window):
    token = "sesame-open"
    raise ZeroDivisionError(f"{len(token)} letters")
StoreSource.look = look
from tui.__main__ import main
sys.exit(main(sys.argv[1:]))
"""


class LongAgo(SystemClock):
    """A clock that is a minute behind, so that the recorder has stopped when a screen opens."""

    def monotonic_ns(self) -> int:
        return super().monotonic_ns() - 60_000_000_000

    def utc_ns(self) -> int:
        return super().utc_ns() - 60_000_000_000


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Path]:
    path = tmp_path / "bathvigil.db"
    with StoreWriter(path) as writer:
        row = writer.begin_run(pictures.FACTS, clock=LongAgo(), program="bathvigil 0.1.0")
        writer.write([(row.run, sample(seq, 9.0)) for seq in range(5)])
        yield path


def is_grey(out: bytes, term: str) -> bool:
    """Whether no colour was set: of the 16, of the palette of 256, or of red, green and blue."""
    greys, used, mixed = GREY_OF_256 if term == "xterm-256color" else GREY_OF_16, set(), set()
    for found in SGR.findall(out):
        codes = [int(code or b"0") for code in found.split(b";")]
        while codes:
            code = codes.pop(0)
            if code in (38, 48):
                if codes.pop(0) == 5:
                    used.add(codes.pop(0))
                else:
                    mixed.add(tuple(codes.pop(0) for _ in "rgb"))
            elif 30 <= code <= 37 or 40 <= code <= 47:
                used.add(code % 10)
            elif 90 <= code <= 97 or 100 <= code <= 107:
                used.add(code % 10 + 8)
    return used <= greys and all(len(set(one)) == 1 for one in mixed)


@pytest.mark.parametrize(("term", "colour_term", "no_colour", "lang"), KINDS)
def test_every_kind_of_terminal_shows_the_state_in_words(
    store: Path, term: str, colour_term: str, no_colour: bool, lang: str
) -> None:
    with Terminal(
        *live(store), term=term, lang=lang, no_colour=no_colour, colour_term=colour_term
    ) as terminal:
        terminal.read_until(STOPPED)
        terminal.read_until(b"own meters")
        os.write(terminal.master, b"q")
        assert terminal.end() == 0
        text = ESCAPES.sub(b"", terminal.out)
        assert b"\x1b" not in text
        drawn = text.decode("utf-8")
        if lang == "C" or term == "vt100":
            assert drawn.isascii()
        assert term != "linux" or not re.search("[\u2800-\u28ff]", drawn)
        assert is_grey(terminal.out, term) is no_colour


@pytest.mark.parametrize("term", ["dumb", "unknown"])
def test_a_terminal_that_cannot_place_text_is_refused_in_one_line(store: Path, term: str) -> None:
    with Terminal(*live(store), term=term) as terminal:
        assert terminal.end() == 1
        assert b"cannot show a screen" in terminal.out
        assert terminal.out.count(b"\n") == 1
        assert b"\x1b" not in terminal.out


def given_back(terminal: Terminal) -> None:
    """Cursor, first screen, plain paste, and how the terminal treats what is typed."""
    for sequence in (SHOW_CURSOR, LEAVE_SECOND_SCREEN, END_PASTE):
        assert sequence in terminal.out
        last_set = terminal.out.rfind(sequence.replace(b"l", b"h"))
        assert sequence is SHOW_CURSOR or terminal.out.rfind(sequence) > last_set
    assert terminal.modes == terminal.before


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP", "SIGINT", "SIGABRT", "SIGQUIT"])
def test_after_a_signal_the_terminal_is_as_it_was(store: Path, name: str) -> None:
    with Terminal(*live(store)) as terminal:
        terminal.read_until(STOPPED)
        terminal.process.send_signal(getattr(signal, name))
        assert terminal.drain() == 128 + getattr(signal, name)
        given_back(terminal)
        terminal.end()


def test_after_a_bug_the_terminal_is_as_it_was_and_no_variable_is_told(store: Path) -> None:
    with Terminal("-c", BREAKS, *live(store)[2:]) as terminal:
        assert terminal.drain() == 1
        given_back(terminal)
        terminal.end()
        told = terminal.out.rpartition(LEAVE_SECOND_SCREEN)[2]
        assert b"ZeroDivisionError: 11 letters" in ESCAPES.sub(b"", told)
        assert b"sesame-open" not in terminal.out


CHATTERS = """
import sys, warnings
from tui.look import StoreSource
look = StoreSource.look
def chatting(self, window):
    print("FOREIGN on stdout")
    print("FOREIGN on stderr", file=sys.stderr)
    warnings.warn("FOREIGN warning")
    return look(self, window)
StoreSource.look = chatting
from tui.__main__ import main
sys.exit(main(sys.argv[1:]))
"""


def test_what_a_library_prints_is_not_on_the_screen(store: Path) -> None:
    with Terminal("-W", "always", "-c", CHATTERS, *live(store)[2:]) as terminal:
        terminal.read_until(STOPPED)
        terminal.read_until(b"own meters")
        os.write(terminal.master, b"q")
        assert terminal.end() == 0
        assert b"FOREIGN" not in terminal.out


REVIEW = ("-m", "bathvigil", "review", "1", "--store")


def screen_of(command: Terminal) -> int:
    """The process of the screen that a command has started."""
    of = Path(f"/proc/{command.process.pid}/task/{command.process.pid}/children")
    (child,) = of.read_text(encoding="ascii").split()
    return int(child)


@pytest.mark.skipif(sys.platform != "linux", reason="/proc tells whose child is who")
def test_a_screen_that_is_killed_leaves_the_terminal_to_its_command_to_give_back(
    store: Path,
) -> None:
    with Terminal(*REVIEW, str(store)) as terminal:
        terminal.read_until(b"time at cursor")
        os.kill(screen_of(terminal), signal.SIGKILL)
        assert terminal.drain() == 128 + signal.SIGKILL
        given_back(terminal)
        assert END_MOUSE in terminal.out
        terminal.end()


@pytest.mark.skipif(sys.platform != "linux", reason="/proc tells whose child is who")
def test_a_command_that_is_killed_leaves_its_screen_to_give_the_terminal_back(
    store: Path,
) -> None:
    with Terminal(*REVIEW, str(store)) as terminal:
        terminal.read_until(b"time at cursor")
        screen = screen_of(terminal)
        terminal.process.kill()
        terminal.process.wait()
        terminal.read_until(LEAVE_SECOND_SCREEN)
        terminal.read_until(SHOW_CURSOR)
        terminal.end()
        assert not Path(f"/proc/{screen}/exe").exists()


EARLY = """
import os, signal, subprocess, sys
from monitor.commands import screen
screen.LEAVE_WITHIN_S = 0.5
start, heeds = subprocess.Popen, getattr(signal, sys.argv[1])
def hung_up_meanwhile(line):
    os.kill(os.getpid(), signal.SIGHUP)
    return start(line, preexec_fn=lambda: signal.signal(signal.SIGHUP, heeds))
subprocess.Popen = hung_up_meanwhile
sleeps = [sys.executable, "-c", "import time; time.sleep(600)"]
print("ended by", -screen.run_to_its_end(sleeps))
"""


@pytest.mark.parametrize(
    ("heeds", "ended_by"), [("SIG_DFL", signal.SIGHUP), ("SIG_IGN", signal.SIGKILL)]
)
def test_a_hang_up_before_the_screen_runs_ends_even_a_deaf_screen(
    heeds: str, ended_by: signal.Signals
) -> None:
    line = [sys.executable, "-c", EARLY, heeds]
    done = subprocess.run(line, capture_output=True, text=True, check=True, timeout=PATIENCE_S)
    assert done.stdout == f"ended by {ended_by}\n"


def test_a_storm_of_real_sizes_is_weathered(store: Path) -> None:
    fuzz = Fuzz(5)
    with Terminal(*live(store)) as terminal:
        terminal.read_until(STOPPED)
        for _ in range(150):
            terminal.resize(*fuzz.size())
            terminal.read_some()
        terminal.out = b""
        terminal.resize(40, 12)
        terminal.read_until(STOPPED)
        os.write(terminal.master, b"q")
        assert terminal.end() == 0
