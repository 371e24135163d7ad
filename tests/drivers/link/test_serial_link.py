"""The serial link on real pseudo-terminals: deadlines, locks, modem lines, unplugging."""

import errno
import fcntl
import os
import resource
import stat
import subprocess
import sys
import termios
import tty
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from drivers.base.clock import SystemClock
from drivers.errors import BadAddress, PortBusy, PortMissing, Reopen
from drivers.link import serial_link
from drivers.link.link import after
from drivers.link.serial_link import WRITE_WITHIN_S, SerialLink, known_ports
from drivers.link.serial_settings import SerialSettings

CLOCK = SystemClock()
TIOCGEXCL = 0x80045440  # Linux: asks whether a terminal is held exclusively


class Pty:
    """A pseudo-terminal; the test is the other end."""

    def __init__(self) -> None:
        self.master, self.slave = os.openpty()
        tty.setraw(self.slave)
        self.path = os.ttyname(self.slave)
        self.is_open = True

    def unplug(self) -> None:
        if self.is_open:
            os.close(self.master)
            os.close(self.slave)
        self.is_open = False


@pytest.fixture
def pty() -> Iterator[Pty]:
    made = Pty()
    yield made
    made.unplug()


@pytest.fixture
def link(pty: Pty) -> Iterator[SerialLink]:
    made = SerialLink(pty.path, SerialSettings(), CLOCK)
    made.open(after(CLOCK, 1.0))
    yield made
    made.close()


def test_bytes_go_both_ways(link: SerialLink, pty: Pty) -> None:
    link.write(b"*IDN?\n", after(CLOCK, 1.0))
    assert os.read(pty.master, 100) == b"*IDN?\n"
    data = bytes(range(256))
    os.write(pty.master, data)
    got = b""
    while len(got) < len(data):
        got += link.read(after(CLOCK, 1.0))
    assert got == data


def test_a_deadline_that_has_passed_takes_what_waits(link: SerialLink, pty: Pty) -> None:
    assert link.read(0) == b""
    os.write(pty.master, b"12.5")
    assert link.read(after(CLOCK, 1.0)) == b"12.5"
    os.write(pty.master, b"late")
    assert link.read(after(CLOCK, 1.0)) + link.read(0) == b"late"


def test_silence_ends_at_the_deadline(link: SerialLink) -> None:
    deadline_ns = after(CLOCK, 0.05)
    assert link.read(deadline_ns) == b""
    assert CLOCK.monotonic_ns() >= deadline_ns


def test_a_port_that_takes_no_bytes_is_given_up(link: SerialLink) -> None:
    with pytest.raises(Reopen, match=f"no bytes within {WRITE_WITHIN_S:g} s"):
        link.write(b"x" * 1_000_000, after(CLOCK, 1.0))


def test_an_unplugged_port_is_a_reopen_whatever_is_called(link: SerialLink, pty: Pty) -> None:
    pty.unplug()
    with pytest.raises(Reopen, match="went away"):
        link.read(after(CLOCK, 1.0))
    with pytest.raises(Reopen):
        link.write(b"*IDN?\n", after(CLOCK, 1.0))
    link.close()
    link.close()
    with pytest.raises(Reopen, match="not open"):
        link.read(0)
    with pytest.raises(PortMissing):
        link.open(after(CLOCK, 1.0))


def test_a_pseudo_terminal_opens_again_and_again_though_it_has_no_parity(pty: Pty) -> None:
    link = SerialLink(pty.path, SerialSettings(parity="even"), CLOCK)
    for _ in range(3):
        link.open(after(CLOCK, 1.0))
        link.close()


def test_a_link_to_the_port_is_looked_up_at_each_opening(tmp_path: Path) -> None:
    stable = tmp_path / "bench-1"
    link = SerialLink(str(stable), SerialSettings(), CLOCK)
    for _ in range(5):
        pty = Pty()
        stable.unlink(missing_ok=True)
        stable.symlink_to(pty.path)
        link.open(after(CLOCK, 1.0))
        os.write(pty.master, b"here\n")
        assert link.read(after(CLOCK, 1.0)) == b"here\n"
        pty.unplug()
        with pytest.raises(Reopen):
            link.read(after(CLOCK, 1.0))
        link.close()


def test_what_is_no_port_is_refused_without_touching_it(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    file = tmp_path / "file"
    file.write_text("kept", encoding="utf-8")
    for path in (pipe, file, tmp_path):
        with pytest.raises(BadAddress, match="is not a serial port"):
            SerialLink(str(path), SerialSettings(), CLOCK).open(after(CLOCK, 1.0))
    with pytest.raises(BadAddress, match="is not a serial port"):
        SerialLink("/dev/null", SerialSettings(), CLOCK).open(after(CLOCK, 1.0))
    with pytest.raises(PortMissing, match="there is no such port"):
        SerialLink(str(tmp_path / "none"), SerialSettings(), CLOCK).open(after(CLOCK, 1.0))
    assert file.read_text(encoding="utf-8") == "kept"


def test_settings_that_the_port_cannot_do_are_named(pty: Pty) -> None:
    """A pseudo-terminal has no 7-bit characters: with nothing else to set, setting it fails."""
    usual = SerialLink(pty.path, SerialSettings(), CLOCK)
    usual.open(after(CLOCK, 1.0))
    usual.close()
    link = SerialLink(pty.path, replace(SerialSettings(), data_bits=7), CLOCK)
    with pytest.raises(BadAddress, match="9600 baud 7N1"):
        link.open(after(CLOCK, 1.0))


def test_the_port_is_held_and_its_holder_named_until_it_dies(pty: Pty) -> None:
    """A process killed without warning leaves the port free."""
    code = (
        "import sys; from drivers.base.clock import SystemClock\n"
        "from drivers.link.serial_link import *\n"
        "link = SerialLink(sys.argv[1], SerialSettings(), SystemClock()); link.open(0)\n"
        "print('held', flush=True); sys.stdin.read()"
    )
    holder = subprocess.Popen(
        [sys.executable, "-c", code, pty.path],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    with holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        link = SerialLink(pty.path, SerialSettings(), CLOCK)
        with pytest.raises(PortBusy) as caught:
            link.open(after(CLOCK, 1.0))
        assert f"(process {holder.pid})" in str(caught.value)
        holder.kill()
    link.open(after(CLOCK, 1.0))
    link.close()


def test_a_second_opening_in_the_same_process_is_refused(link: SerialLink, pty: Pty) -> None:
    with pytest.raises(PortBusy, match="two supplies in the settings name the same port"):
        SerialLink(pty.path, SerialSettings(), CLOCK).open(after(CLOCK, 1.0))
    link.read(0)


def is_exclusive(path: str) -> bool:
    try:
        handle = os.open(path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
    except OSError as error:
        return error.errno == errno.EBUSY  # what anybody but root is told
    try:
        return any(fcntl.ioctl(handle, TIOCGEXCL, bytes(4)))
    finally:
        os.close(handle)


def test_a_real_port_is_held_by_both_locks_and_given_back(
    pty: Pty, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(serial_link, "_PSEUDO_TERMINALS", range(0))
    link = SerialLink(pty.path, SerialSettings(), CLOCK)
    link.open(after(CLOCK, 1.0))
    assert is_exclusive(pty.path)
    link.close()
    assert not is_exclusive(pty.path)


def test_a_pseudo_terminal_is_held_by_the_lock_that_dies_with_us(
    link: SerialLink, pty: Pty
) -> None:
    assert stat.S_ISCHR(Path(pty.path).stat().st_mode)
    assert not is_exclusive(pty.path)


@pytest.fixture
def calls(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The numbers of all device calls that the library makes."""
    made: list[int] = []
    real = fcntl.ioctl

    def noted(handle: int, number: int, argument: bytes = b"") -> object:
        made.append(number)
        return real(handle, number, argument)

    monkeypatch.setattr("serial.serialposix.fcntl.ioctl", noted)
    return made


MODEM_LINES = {termios.TIOCMSET, termios.TIOCMBIS, termios.TIOCMBIC}


def test_opening_closing_and_reopening_leave_the_modem_lines_alone(
    pty: Pty, calls: list[int]
) -> None:
    link = SerialLink(pty.path, SerialSettings(), CLOCK)
    for _ in range(3):
        link.open(after(CLOCK, 1.0))
        link.read(0)
        link.close()
    assert calls
    assert not MODEM_LINES & set(calls)


@pytest.mark.parametrize(
    ("settings", "made"),
    [
        (replace(SerialSettings(), dtr="low"), [termios.TIOCMBIC]),
        (replace(SerialSettings(), rts="high"), [termios.TIOCMBIS]),
    ],
)
def test_a_level_that_is_asked_for_is_set_once_and_only_that(
    settings: SerialSettings, made: list[int], pty: Pty, calls: list[int]
) -> None:
    """A pseudo-terminal has no such lines (error 25): opening goes on all the same."""
    link = SerialLink(pty.path, settings, CLOCK)
    link.open(after(CLOCK, 1.0))
    link.close()
    assert [number for number in calls if number in MODEM_LINES] == made


def test_closing_does_not_drop_dtr(pty: Pty) -> None:
    state = termios.tcgetattr(pty.slave)
    state[2] |= termios.HUPCL
    termios.tcsetattr(pty.slave, termios.TCSANOW, state)
    link = SerialLink(pty.path, SerialSettings(), CLOCK)
    link.open(after(CLOCK, 1.0))
    assert not termios.tcgetattr(pty.slave)[2] & termios.HUPCL
    link.close()


def test_listing_ports_opens_none(monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[str] = []
    real = os.open

    def noted(path: str, flags: int, *more: int, **named: int) -> int:
        opened.append(str(path))
        return real(path, flags, *more, **named)

    monkeypatch.setattr(os, "open", noted)
    assert isinstance(known_ports(), tuple)
    assert not [path for path in opened if path.startswith("/dev/tty")]


def test_opening_and_failing_leak_nothing(tmp_path: Path) -> None:
    stable = tmp_path / "port"
    link = SerialLink(str(stable), SerialSettings(), CLOCK)

    def once() -> None:
        with pytest.raises(PortMissing):
            link.open(after(CLOCK, 1.0))
        pty = Pty()
        stable.symlink_to(pty.path)
        link.open(after(CLOCK, 1.0))
        pty.unplug()
        with pytest.raises(Reopen):
            link.read(after(CLOCK, 1.0))
        link.close()
        stable.unlink()

    once()
    before = len(list(Path("/proc/self/fd").iterdir()))
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    # So few more that a single one left behind at each opening would be too many.
    resource.setrlimit(resource.RLIMIT_NOFILE, (before + 40, hard))
    try:
        for _ in range(200):
            once()
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))
    assert len(list(Path("/proc/self/fd").iterdir())) == before
