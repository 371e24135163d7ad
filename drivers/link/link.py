"""A link to one supply, or to several on one bus: every call has a deadline.

Deadlines are moments of the injected monotonic clock, in nanoseconds. They are kept by our own
code: the libraries and the system only ever wait for `SLICE_S` at a time.
"""

from dataclasses import dataclass
from typing import Protocol

from drivers.base.clock import Clock

SLICE_S = 0.02
"""The longest single wait for bytes, seconds: a deadline is missed by no more than this."""

LAST_BYTES = 32
"""How many of the last bytes are kept to be shown when nothing can be made of them."""


class Link(Protocol):
    """One serial port or socket.

    Every failure is a `Reopen` or a `DoNotRepeat`; after one the link must be closed. One
    thread at a time.
    """

    @property
    def place(self) -> str:
        """Where it leads, for messages: the port's path, or host and port."""
        ...

    def open(self, deadline_ns: int) -> None:
        """Open it, or raise before long after the deadline."""
        ...

    def close(self) -> None:
        """Give it back; never raises, may be called at any time and more than once."""
        ...

    def write(self, data: bytes, deadline_ns: int) -> None:
        """Send all of `data`, or raise."""
        ...

    def read(self, deadline_ns: int) -> bytes:
        """What has come: waits for the first byte until the deadline, then returns b"".

        With a deadline that has passed it returns what waits, at once.
        """
        ...


@dataclass(frozen=True, slots=True)
class Drained:
    """What a drain threw away.

    Parameters
    ----------
    count
        Bytes thrown away.
    last
        The last of them, at most `LAST_BYTES`.
    is_quiet
        False where bytes were still coming at the deadline.
    """

    count: int
    last: bytes
    is_quiet: bool


def after(clock: Clock, seconds: float) -> int:
    """The moment `seconds` from now, as a deadline."""
    return clock.monotonic_ns() + int(seconds * 1e9)


def drain(link: Link, clock: Clock, quiet_s: float, deadline_ns: int) -> Drained:
    """Throw away what comes until nothing has come for `quiet_s`, or until the deadline."""
    count, last = 0, b""
    while True:
        quiet_ns = after(clock, quiet_s)
        data = link.read(min(quiet_ns, deadline_ns))
        if not data:
            return Drained(count, last, clock.monotonic_ns() >= quiet_ns)
        count += len(data)
        last = (last + data)[-LAST_BYTES:]
        if clock.monotonic_ns() >= deadline_ns:
            return Drained(count, last, is_quiet=False)
