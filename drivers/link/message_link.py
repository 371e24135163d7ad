"""What links share on which whole messages go: VISA, USBTMC.

Numbered rules, each with its test:

1. A message is fetched only while a question is unanswered: to fetch one that was never asked for
   is an error in the instrument (SCPI-1999 volume 2, 21.8.11: -420, Query UNTERMINATED).
2. An answer that came after its time-out is fetched by the next reading, and so is known as late.
3. A message without a line feed at its end gets one, since its end is known.
4. Nothing but questions and the fetching of answers goes to the instrument: no clear, no reset, no
   trigger, no lock, no change of remote or local.
"""

from abc import ABC, abstractmethod
from contextlib import suppress

from drivers.base.clock import Clock
from drivers.errors import Reopen
from drivers.link.blocking_calls import BlockingCalls

LEAST_READ_S = 0.02
FORGOTTEN_AFTER_S = 5.0
"""An answer that has not come by then never comes."""
CLOSE_S = 1.0


class MessageLink(ABC):
    """One instrument that takes and gives whole messages; a `Link`."""

    def __init__(self, place: str, clock: Clock) -> None:
        self._place = place
        self.clock = clock
        self._calls = BlockingCalls(place, clock)
        self._is_open = False
        self._unanswered = 0
        self._asked_ns = 0

    @property
    def place(self) -> str:
        return self._place

    @abstractmethod
    def _connect(self, within_s: float) -> None:
        """Open it; raises a `DriverError`."""

    @abstractmethod
    def _disconnect(self) -> None:
        """Give it back."""

    @abstractmethod
    def _send(self, data: bytes, within_s: float) -> None:
        """Send one message; raises a `DriverError`."""

    @abstractmethod
    def _fetch(self, within_s: float) -> bytes:
        """One message; b"" where none has come in time. Raises a `DriverError`."""

    def open(self, deadline_ns: int) -> None:
        self.close()
        self._calls.begin()
        left_s = self._left_s(deadline_ns)
        try:
            self._calls.run(lambda: self._connect(left_s), deadline_ns)
        except BaseException:
            self._calls.end()
            raise
        self._is_open, self._unanswered = True, 0

    def close(self) -> None:
        is_open, self._is_open = self._is_open, False
        if not is_open:
            return
        # Whatever a library raises at its end: the link is given up anyway.
        with suppress(Exception):
            self._calls.run(self._disconnect, self.clock.monotonic_ns() + int(CLOSE_S * 1e9))
        self._calls.end()

    def write(self, data: bytes, deadline_ns: int) -> None:
        if not self._is_open:
            raise Reopen(f"{self.place}: it is not open")
        left_s = self._left_s(deadline_ns)
        self._calls.run(lambda: self._send(data, left_s), deadline_ns)
        self._unanswered += 1
        self._asked_ns = self.clock.monotonic_ns()

    def read(self, deadline_ns: int) -> bytes:
        if not self._is_open:
            raise Reopen(f"{self.place}: it is not open")
        if not self._unanswered:
            left_ns = deadline_ns - self.clock.monotonic_ns()
            if left_ns > 0:
                self.clock.wait(left_ns / 1e9)
            return b""
        if deadline_ns <= self.clock.monotonic_ns():
            return b""
        left_s = self._left_s(deadline_ns)
        data = self._calls.run(lambda: self._fetch(left_s), deadline_ns + int(left_s * 1e9))
        if data:
            self._unanswered -= 1
            return data if data.endswith((b"\n", b"\r")) else data + b"\n"
        if self.clock.monotonic_ns() - self._asked_ns > FORGOTTEN_AFTER_S * 1e9:
            self._unanswered = 0
        return b""

    def _left_s(self, deadline_ns: int) -> float:
        return max((deadline_ns - self.clock.monotonic_ns()) / 1e9, LEAST_READ_S)
