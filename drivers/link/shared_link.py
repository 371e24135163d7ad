"""One port or connection that several units share: each driver has its own share of it.

Rules, each with its test:

1. The first share that opens opens the link; the last that closes closes it.
2. When the link fails for one, it is closed for all: each learns it at its next use.
3. Shares of one serial line must be set alike.
4. Before a frame the line has been silent for at least the gap, counted from its last byte.
5. When none of the shares hears anything any more, a connection is given up as a whole.
6. Two names of one port are one line; each share keeps its own name for the next opening.
"""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Protocol, TypeVar, cast

from drivers.base.clock import Clock
from drivers.errors import BadAddress, NoAnswer, Reopen
from drivers.link.link import Link

S = TypeVar("S")

UNHEARD_LIMIT = 3
_CHARACTER_BITS = 11  # V1.02, 2.5.1: start, 8, parity or second stop, stop
_FIXED_OVER_BAUD = 19200
_FIXED_GAP_S = 0.00175


def frame_gap_s(baud: int) -> float:
    """The silence between two frames: 3.5 characters, or 1.750 ms over 19200 baud.

    Modbus over Serial Line V1.02, 2.5.1.1.

    Examples
    --------
    >>> [f"{1000 * frame_gap_s(baud):.3f}" for baud in (9600, 19200, 115200)]
    ['4.010', '2.005', '1.750']
    """
    if baud > _FIXED_OVER_BAUD:
        return _FIXED_GAP_S
    return 3.5 * _CHARACTER_BITS / baud


class Plug(Protocol):
    """What a share knows of the port that its link goes to; `PortName` is one."""

    def leads_to(self) -> str | None:
        """The device at this moment; None where it is not known."""
        ...

    def remember(self) -> None:
        """The name has led to its device once: it means this one from now on."""
        ...


class _Line:
    """One open link and what its shares know of it together."""

    def __init__(self, link: Link, settings: str, device: str | None) -> None:
        self.link = link
        self.settings = settings
        self.device = device
        self.shares: set[SharedLink] = set()
        self.unheard_by: set[SharedLink] = set()
        self.unheard = 0
        self.busy_until_ns = 0
        self.state: object = None
        self.lock = threading.RLock()


_LINES: list[_Line] = []
_LINES_LOCK = threading.Lock()


class SharedLink:
    """One driver's share of a link; a `Link`.

    Parameters
    ----------
    link
        Used if no other share has opened this place already.
    clock
        For the gap.
    gap_s
        The least silence before a frame, seconds.
    character_s
        How long one character takes on the wire; 0.0 where it does not matter.
    settings
        How the link is set, in words: all shares of one line must agree.
    plug
        Where the link is plugged in; None where it has no other name than its place.
    """

    def __init__(
        self,
        link: Link,
        clock: Clock,
        gap_s: float,
        character_s: float,
        settings: str,
        plug: Plug | None = None,
    ) -> None:
        self.own = link
        self.clock = clock
        self.gap_s = gap_s
        self.character_s = character_s
        self.settings = settings
        self.plug = plug
        self._line: _Line | None = None

    @property
    def place(self) -> str:
        return self.own.place

    @property
    def is_shared(self) -> bool:
        """True while others use the same line."""
        return self._line is not None and len(self._line.shares) > 1

    def open(self, deadline_ns: int) -> None:
        self.close()
        device = None if self.plug is None else self.plug.leads_to()
        with _LINES_LOCK:
            line = _known(self.own.place, device)
            if line is None:
                line = _Line(self.own, self.settings, device)
                _LINES.append(line)
                line.lock.acquire()
                is_first = True
            else:
                is_first = False
                line.shares.add(self)
        if not is_first:
            self._join(line)
            return
        try:
            line.link.open(deadline_ns)
            # Nobody knows what was on the line a moment ago.
            line.busy_until_ns = self.clock.monotonic_ns()
            line.shares.add(self)
            self._line = line
        except BaseException:
            _forget(line)
            raise
        finally:
            line.lock.release()

    def close(self) -> None:
        line, self._line = self._line, None
        if line is None:
            return
        with line.lock:
            is_dead = line.unheard >= UNHEARD_LIMIT and line.unheard_by >= line.shares
            line.shares.discard(self)
            line.unheard_by.discard(self)
            if not line.shares or is_dead:
                _forget(line)
                line.link.close()

    @contextmanager
    def turn(self, deadline_ns: int) -> Iterator[None]:
        """Hold the line alone; `NoAnswer` where others still hold it at the deadline."""
        line = self._line
        if line is None:
            yield
            return
        wait_s = max((deadline_ns - self.clock.monotonic_ns()) / 1e9, 0.0)
        if not line.lock.acquire(timeout=wait_s):
            raise NoAnswer(f"{self.place}: the line is busy with other units: poll less often")
        try:
            yield
        finally:
            line.lock.release()

    def state(self, kind: Callable[[], S]) -> S:
        """What the shares of one open link keep in common; made at the first asking."""
        line = self._opened()
        if line.state is None:
            line.state = kind()
        return cast(S, line.state)

    def fail(self) -> None:
        """Close it for all."""
        if self._line is not None:
            self._fail(self._line)

    def write(self, data: bytes, deadline_ns: int) -> None:
        line = self._opened()
        with line.lock:
            self.wait_for_the_gap()
            try:
                line.link.write(data, deadline_ns)
            except Reopen:
                self._fail(line)
                raise
            sent_ns = int(len(data) * self.character_s * 1e9)
            line.busy_until_ns = self.clock.monotonic_ns() + sent_ns
            line.unheard += 1
            line.unheard_by.add(self)

    def read(self, deadline_ns: int) -> bytes:
        line = self._opened()
        try:
            data = line.link.read(deadline_ns)
        except Reopen:
            self._fail(line)
            raise
        if data:
            line.busy_until_ns = self.clock.monotonic_ns()
            line.unheard = 0
            line.unheard_by.clear()
        return data

    def wait_for_the_gap(self) -> None:
        """Wait until the line has been silent for long enough that a frame may begin."""
        line = self._opened()
        wait_ns = line.busy_until_ns + int(self.gap_s * 1e9) - self.clock.monotonic_ns()
        if wait_ns > 0:
            self.clock.wait(wait_ns / 1e9)

    def _join(self, line: _Line) -> None:
        with line.lock:
            is_open = line in _LINES
            if is_open and line.settings == self.settings:
                self._line = line
                if self.plug is not None:
                    self.plug.remember()
                return
            line.shares.discard(self)
        if not is_open:
            raise Reopen(f"{self.place}: another unit has just closed the line")
        raise BadAddress(
            f"{self.place}: one supply wants {self.settings}, another on the same line "
            f"{line.settings}: set all units of one line alike"
        )

    def _opened(self) -> _Line:
        line = self._line
        if line is None or self not in line.shares:
            raise Reopen(f"{self.place}: the line is not open")
        return line

    def _fail(self, line: _Line) -> None:
        _forget(line)
        line.shares.clear()
        line.link.close()


def _known(place: str, device: str | None) -> _Line | None:
    """The open line of this name; else, under whatever name, the one to this device."""
    for line in _LINES:
        if line.link.place == place:
            return line
    return next((line for line in _LINES if device is not None and line.device == device), None)


def _forget(line: _Line) -> None:
    with _LINES_LOCK:
        if line in _LINES:
            _LINES.remove(line)
    line.shares.clear()
