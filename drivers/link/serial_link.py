"""A `Link` over a serial port or a pseudo-terminal; the only file that imports `serial`.

What the library does on a vanished port differs from call to call (its own exception, a bare
`OSError`, `termios.error`); all of it becomes a `Reopen` here.
"""

import contextlib
import errno
import os
import select
import stat
import sys
from collections.abc import Callable
from pathlib import Path

import serial
from serial.tools import list_ports

from drivers.base.clock import Clock
from drivers.errors import Reopen
from drivers.link.link import SLICE_S, after
from drivers.link.port_names import PortName
from drivers.link.port_troubles import no_port, port_trouble, port_vanished
from drivers.link.ports import ROOT, SerialPort, list_serial_ports
from drivers.link.serial_settings import SerialSettings

if sys.platform != "win32":
    import fcntl
    import termios

    _FOREIGN: tuple[type[Exception], ...] = (OSError, termios.error)
else:
    _FOREIGN = (OSError,)

_UNOPENED: tuple[type[Exception], ...] = (*_FOREIGN, ValueError)

# With a write time-out of zero the library spins for ever on a port that takes nothing.
WRITE_WITHIN_S = 0.2
_PARITIES = {
    "none": serial.PARITY_NONE,
    "even": serial.PARITY_EVEN,
    "odd": serial.PARITY_ODD,
}
_CHUNK = 4096
_PSEUDO_TERMINALS = range(136, 144)  # Linux: major numbers of Unix98 pseudo-terminal slaves


class _Port(serial.Serial):
    """A port that sets a modem line only where a level is asked for, and never pulses it."""

    leaves_dtr = True
    leaves_rts = True

    def _update_dtr_state(self) -> None:
        if not self.leaves_dtr:
            super()._update_dtr_state()  # type: ignore[misc]  # the stubs leave it out

    def _update_rts_state(self) -> None:
        if not self.leaves_rts:
            super()._update_rts_state()  # type: ignore[misc]  # the stubs leave it out


class SerialLink:
    """One serial port, held for us alone while it is open.

    Parameters
    ----------
    path
        Such as "/dev/ttyUSB0", "usb:1a86:7523", a link, or a pseudo-terminal; looked up at each
        opening, by the rules of `port_names.py`.
    settings
        Speed, form of a character, modem lines.
    clock
        For the deadlines.
    root
        Where /dev and /sys are.
    """

    def __init__(
        self, path: str, settings: SerialSettings, clock: Clock, root: Path = ROOT
    ) -> None:
        self.path = path
        self.settings = settings
        self.clock = clock
        self.name = PortName(path, root)
        self._port: _Port | None = None

    @property
    def place(self) -> str:
        return self.path

    def open(self, deadline_ns: int) -> None:
        """Open the port without waiting for anything; `deadline_ns` cannot be missed.

        Raises
        ------
        DriverError
            `PortMissing`, `PortDenied`, `PortBusy`, `BadAddress` or plain `Reopen`.
        """
        self.close()
        path = self.name.look_up()
        port = self._closed_port(path)
        try:
            if sys.platform != "win32" and not stat.S_ISCHR(Path(path).stat().st_mode):
                raise no_port(self.path)
            if _is_pseudo_terminal(Path(path).stat()):
                # It has no parity bit, and fails when it is asked for one a second time.
                port.parity = serial.PARITY_NONE
            port.open()
            self._port = port
            self._hold_alone(port)
        except _UNOPENED as error:
            self.close()
            words = self.settings.words
            raise port_trouble(path, words, error, known_ports) from error
        self.name.remember()

    def close(self) -> None:
        port, self._port = self._port, None
        if port is None:
            return
        # What was not sent is dropped: a real port would wait up to 30 s for it to go.
        _attempt(port.reset_output_buffer)
        if sys.platform != "win32":
            _attempt(lambda: fcntl.ioctl(port.fileno(), termios.TIOCNXCL))
        _attempt(port.close)

    def write(self, data: bytes, deadline_ns: int) -> None:
        """Send all of `data`; it takes `WRITE_WITHIN_S` at the most, whatever the deadline.

        Raises
        ------
        Reopen
            Where the port is gone, or takes no bytes.
        """
        port = self._opened()
        try:
            is_sent = _give(port, data, self.clock)
        except _FOREIGN as error:
            raise port_vanished(self.path, error) from error
        if not is_sent:
            raise Reopen(self._stuck())

    def read(self, deadline_ns: int) -> bytes:
        """What has come, at once; or, before the deadline, the first bytes that come.

        Raises
        ------
        Reopen
            Where the port is gone.
        """
        port = self._opened()
        try:
            while True:
                wait_s = min((deadline_ns - self.clock.monotonic_ns()) / 1e9, SLICE_S)
                if data := _take(port, max(wait_s, 0.0)):
                    return data
                if wait_s <= 0.0:
                    return b""
        except _FOREIGN as error:
            raise port_vanished(self.path, error) from error

    def _closed_port(self, path: str) -> _Port:
        port = _Port()
        port.port = path
        port.baudrate = self.settings.baud
        port.parity = _PARITIES[self.settings.parity]
        port.stopbits = self.settings.stop_bits
        port.bytesize = self.settings.data_bits
        port.timeout = SLICE_S
        port.write_timeout = WRITE_WITHIN_S
        if sys.platform != "win32":
            port.exclusive = True
        if self.settings.dtr != "leave":
            port.leaves_dtr = False
            port.dtr = self.settings.dtr == "high"
        if self.settings.rts != "leave":
            port.leaves_rts = False
            port.rts = self.settings.rts == "high"
        return port

    def _hold_alone(self, port: _Port) -> None:
        if sys.platform == "win32":
            return
        handle = port.fileno()
        # A pseudo-terminal would keep this lock after a killed process; flock holds there.
        if not _is_pseudo_terminal(os.fstat(handle)):
            fcntl.ioctl(handle, termios.TIOCEXCL)
        # Without this, closing drops DTR, and each reopening would pulse it.
        state = termios.tcgetattr(handle)
        state[2] &= ~termios.HUPCL
        termios.tcsetattr(handle, termios.TCSANOW, state)

    def _opened(self) -> _Port:
        if self._port is None:
            raise Reopen(f"{self.path}: the port is not open")
        return self._port

    def _stuck(self) -> str:
        return (
            f"{self.path}: the port took no bytes within {WRITE_WITHIN_S:g} s: check the cable "
            "and that the supply needs no handshake lines"
        )


def serial_ports() -> tuple[SerialPort, ...]:
    """The serial ports that there are, on any system; none of them is opened."""
    if Path("/sys/class/tty").is_dir():
        return list_serial_ports()
    return tuple(SerialPort(port.device, None) for port in sorted(list_ports.comports()))


def _give(port: _Port, data: bytes, clock: Clock) -> bool:
    """Send all of `data`; False where the port does not take it within `WRITE_WITHIN_S`."""
    if sys.platform == "win32":
        try:
            return port.write(data) == len(data)
        except serial.SerialTimeoutException:
            return False
    handle, rest = port.fileno(), memoryview(data)
    until_ns = after(clock, WRITE_WITHIN_S)
    while True:
        with contextlib.suppress(BlockingIOError):
            rest = rest[os.write(handle, rest) :]
        if not rest:
            return True
        left_s = (until_ns - clock.monotonic_ns()) / 1e9
        if left_s <= 0.0 or not select.select([], [handle], [], left_s)[1]:
            return False


def _take(port: _Port, wait_s: float) -> bytes:
    """What has come, or comes within a time; in two calls of the system, not the library's five."""
    if sys.platform == "win32":
        port.timeout = wait_s
        first = port.read(1)
        return first + port.read(port.in_waiting) if first else b""
    handle = port.fileno()
    if not select.select([handle], [], [], wait_s)[0]:
        return b""
    if data := os.read(handle, _CHUNK):
        return data
    raise OSError(errno.EIO, "it is ready to be read, but nothing comes")


def known_ports() -> tuple[str, ...]:
    """The names of the serial ports that there are, the best one of each."""
    return tuple(port.best_name for port in serial_ports())


def is_pseudo_terminal(path: str) -> bool:
    """Whether a path leads to a pseudo-terminal, whose other end holds it open, too."""
    try:
        return _is_pseudo_terminal(Path(path).stat())
    except OSError:
        return False


def _is_pseudo_terminal(state: os.stat_result) -> bool:
    return os.name == "posix" and os.major(state.st_rdev) in _PSEUDO_TERMINALS


def _attempt(step: Callable[[], object]) -> None:
    """Do what can only fail because the port is gone already."""
    with contextlib.suppress(*_FOREIGN):
        step()
