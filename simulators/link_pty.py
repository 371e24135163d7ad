"""A pseudo-terminal: to the other side a serial port without a wire and without parity."""

import os
import select
from pathlib import Path

from simulators.link import CannotServe, Port
from simulators.pace import machine_s

TRIALS = 20


class PtyPort:
    """The supply's side of the pseudo-terminal.

    Parameters
    ----------
    late_s
        A port sends at once what it is given; a pseudo-terminal has a thread of the system hand it
        over, which takes so long.
    """

    def __init__(self, fd: int, late_s: float = 0.0) -> None:
        self._fd = fd
        self.late_s = late_s
        os.set_blocking(fd, False)

    def fileno(self) -> int:
        return self._fd

    def read(self) -> bytes | None:
        try:
            return os.read(self._fd, 4096) or None
        except BlockingIOError:
            return None

    def write(self, data: bytes) -> int:
        try:
            return os.write(self._fd, data)
        except BlockingIOError:
            return 0

    def close(self) -> None:
        os.close(self._fd)

    def cut(self) -> None:
        self.close()


class PtyLink:
    """A pseudo-terminal in raw mode, and if wanted a second name for it that stays the same.

    Parameters
    ----------
    link_name
        A symbolic link to put there; one that stands there already is replaced, anything else not.

    Raises
    ------
    CannotServe
        Where the system has no pseudo-terminals, or the name cannot be put there.
    """

    def __init__(self, link_name: Path | None = None) -> None:
        self._link_name = link_name
        self._theirs: int | None = None
        self._path = ""
        self._port: PtyPort
        self.plug_in()

    @property
    def address(self) -> str:
        return self._path

    def listener(self) -> int | None:
        return None

    def ports(self) -> list[Port]:
        return [self._port]

    def accept(self) -> Port | None:
        return None

    def unplug(self) -> None:
        name, theirs, self._theirs = self._link_name, self._theirs, None
        if name is not None and name.is_symlink() and str(name.readlink()) == self._path:
            name.unlink()
        if theirs is not None:
            os.close(theirs)

    def plug_in(self, name: str | None = None) -> None:
        if name is not None:
            self._link_name = Path(name)
        try:
            import tty  # not on every system
        except ImportError as error:
            raise CannotServe("this system has no pseudo-terminals; use --link scpi-tcp") from error
        try:
            ours, theirs = os.openpty()
        except OSError as error:
            raise CannotServe(f"no pseudo-terminal to be had: {error.strerror}") from error
        tty.setraw(theirs)
        # Ours keeps their side open, or every read gives EIO until somebody opens the port.
        self._theirs = theirs
        self._port = PtyPort(ours, _hands_over_s(theirs, ours))
        self._path = os.ttyname(theirs)
        if self._link_name is not None:
            try:
                self._put_name(self._link_name)
            except CannotServe:
                self._port.close()
                self.unplug()
                raise

    def close(self) -> None:
        if self._theirs is not None:
            self.unplug()
            self._port.close()

    def _put_name(self, name: Path) -> None:
        if name.exists() and not name.is_symlink():
            raise CannotServe(f"{name} is not a symbolic link; choose another --link-name")
        fresh = name.with_name(f".{name.name}.{os.getpid()}")
        try:
            fresh.symlink_to(self._path)
            fresh.replace(name)
        except OSError as error:
            raise CannotServe(f"cannot make the link {name}: {error.strerror}") from error


def _hands_over_s(theirs: int, ours: int) -> float:
    """The shortest time in which a byte gets from one side of a pseudo-terminal to the other."""
    arrived = select.poll()
    arrived.register(ours, select.POLLIN)
    taken_s = []
    for _ in range(TRIALS):
        sent_s = machine_s()
        os.write(theirs, b"\0")
        if arrived.poll(1000):
            taken_s.append(machine_s() - sent_s)
            os.read(ours, 1)
    return min(taken_s, default=0.0)
