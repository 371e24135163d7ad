"""A link and a protocol in, a supply that answers until it is told to stop out.

One thread, no waiting but for bytes. The scene begins with the first bytes that come, whatever they
are, so that whoever asks first sees it from its start.
"""

import selectors
import socket
from collections.abc import Callable

from simulators.exchange import End, Exchange
from simulators.link import Link, Port
from simulators.pace import Deadline, Pace

# What a caller who does not read may leave waiting; more is lost, as on a serial line.
MOST_WAITING_BYTES = 1 << 16


class Stop:
    """Ends the serving, from another thread or from a signal."""

    def __init__(self) -> None:
        self._ours, self._theirs = socket.socketpair()
        self._theirs.setblocking(False)

    def set(self) -> None:
        """Say stop; may be said more than once."""
        try:
            self._theirs.send(b"x")
        except BlockingIOError:  # said often enough
            return

    def fileno(self) -> int:
        return self._ours.fileno()

    def close(self) -> None:
        self._ours.close()
        self._theirs.close()


class _Line:
    """One open port with the protocol's end that answers on it."""

    def __init__(self, port: Port, end: End) -> None:
        self.port = port
        self.end = end
        self.waiting = bytearray()
        self.watched = selectors.EVENT_READ


class Serving:
    """Answers on one link.

    Parameters
    ----------
    link
        The transport; closed when serving ends.
    make_end
        Makes the protocol's end for one port.
    pace
        Says how far the scene has come.
    note
        Called with each exchange before its answer is sent.
    """

    def __init__(
        self,
        link: Link,
        make_end: Callable[[], End],
        pace: Pace,
        note: Callable[[Exchange], None] = lambda exchange: None,
    ) -> None:
        self._link = link
        self._make_end = make_end
        self._pace = pace
        self._note = note
        self._selector = selectors.DefaultSelector()

    def run(self, stop: Stop, for_s: float | None = None) -> None:
        """Answer until `stop` is set, or for so many seconds of the machine's time."""
        selector, listener = self._selector, self._link.listener()
        until = Deadline(for_s)
        selector.register(stop, selectors.EVENT_READ)
        if listener is not None:
            selector.register(listener, selectors.EVENT_READ)
        for port in self._link.ports():
            self._open(port)
        try:
            while not until.is_over:
                for key, events in selector.select(until.left_s):
                    if key.fileobj is stop:
                        return
                    if isinstance(key.data, _Line):
                        self._attend(key.data, events)
                    elif (call := self._link.accept()) is not None:
                        self._open(call)
        finally:
            for key in list(selector.get_map().values()):
                if isinstance(key.data, _Line) and listener is not None:
                    key.data.port.close()
            selector.close()
            self._link.close()

    def _open(self, port: Port) -> None:
        self._selector.register(port, selectors.EVENT_READ, _Line(port, self._make_end()))

    def _attend(self, line: _Line, events: int) -> None:
        if events & selectors.EVENT_READ:
            data = line.port.read()
            if data == b"":
                self._selector.unregister(line.port)
                line.port.close()
                return
            if data is not None:
                line.end.feed(data, self._pace.t_s())
                for exchange in line.end.exchanges():
                    self._note(exchange)
                if len(line.waiting) < MOST_WAITING_BYTES:
                    line.waiting += line.end.take()
                else:
                    line.end.take()
        if line.waiting:
            del line.waiting[: line.port.write(bytes(line.waiting))]
        wanted = selectors.EVENT_READ | (selectors.EVENT_WRITE if line.waiting else 0)
        if wanted != line.watched:
            line.watched = wanted
            self._selector.modify(line.port, wanted, line)
