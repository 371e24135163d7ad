"""A pseudo-terminal: to the other side a real serial port, with no wire and no parity."""

import os
from pathlib import Path

from simulators.link import CannotServe, Port


class PtyPort:
    """The supply's side of the pseudo-terminal."""

    def __init__(self, fd: int) -> None:
        self._fd = fd
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
        self._port = PtyPort(ours)
        self._path = os.ttyname(theirs)
        self._link_name: Path | None = None
        if link_name is not None:
            try:
                self._put_name(link_name)
            except CannotServe:
                self.close()
                raise

    @property
    def address(self) -> str:
        return self._path

    def listener(self) -> int | None:
        return None

    def ports(self) -> list[Port]:
        return [self._port]

    def accept(self) -> Port | None:
        return None

    def close(self) -> None:
        name = self._link_name
        if name is not None and name.is_symlink() and str(name.readlink()) == self._path:
            name.unlink()
        self._port.close()
        os.close(self._theirs)

    def _put_name(self, name: Path) -> None:
        if name.exists() and not name.is_symlink():
            raise CannotServe(f"{name} is not a symbolic link; choose another --link-name")
        fresh = name.with_name(f".{name.name}.{os.getpid()}")
        try:
            fresh.symlink_to(self._path)
            fresh.replace(name)
        except OSError as error:
            raise CannotServe(f"cannot make the link {name}: {error.strerror}") from error
        self._link_name = name
