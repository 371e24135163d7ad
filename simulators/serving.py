"""Serves a simulated supply on one link until it is stopped.

One thread, no waiting but for bytes and for what falls due. The scene begins with the first bytes
that come, whatever they are, so that whoever asks first sees it from its start; where a supply
speaks unasked, it begins at once.
"""

import selectors
import socket
from collections import deque
from collections.abc import Callable
from contextlib import suppress

from simulators.exchange import End, Exchange
from simulators.fault_track import Outage
from simulators.faults import Faults
from simulators.line_rate import LineRate
from simulators.link import Link, Port
from simulators.pace import Deadline, Pace, machine_s
from simulators.wire import Wire

# What a caller who does not read may leave waiting; more is lost, as on a serial line.
MOST_WAITING_BYTES = 1 << 16


# So late the system wakes a thread that waits for a time: 50 us timer slack, and the switch.
WAKES_LATE_S = 0.00015
# The system refuses to be asked for waits of some weeks.
LONGEST_WAIT_S = 3600.0


class Stop:
    """Ends the serving, or has it do something, from another thread or from a signal."""

    def __init__(self) -> None:
        self._ours, self._theirs = socket.socketpair()
        self._theirs.setblocking(False)
        self._ours.setblocking(False)
        self._deeds: deque[Callable[[], None]] = deque()
        self._is_set = False

    def set(self) -> None:
        """Say stop; may be said more than once."""
        self._is_set = True
        self._nudge()

    def bid(self, deed: Callable[[], None]) -> None:
        """Have the serving thread do something soon."""
        self._deeds.append(deed)
        self._nudge()

    def obey(self) -> bool:
        """Do what was bidden; True where it was told to stop."""
        with suppress(BlockingIOError):
            self._ours.recv(4096)
        while self._deeds:
            self._deeds.popleft()()
        return self._is_set

    def fileno(self) -> int:
        return self._ours.fileno()

    def close(self) -> None:
        self._ours.close()
        self._theirs.close()

    def _nudge(self) -> None:
        try:
            self._theirs.send(b"x")
        except BlockingIOError:  # nudged often enough
            return


class _Line:
    """One open port with the wire behind it."""

    def __init__(self, port: Port, wire: Wire) -> None:
        self.port = port
        self.wire = wire
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
    faults
        What goes wrong; nothing if None.
    rate
        Of the line; as fast as can be if None.
    deaf_s
        So long after its answer the supply hears nothing.
    """

    def __init__(
        self,
        link: Link,
        make_end: Callable[[], End],
        pace: Pace,
        note: Callable[[Exchange], None] = lambda exchange: None,
        *,
        faults: Faults | None = None,
        rate: LineRate | None = None,
        deaf_s: float = 0.0,
    ) -> None:
        self._link = link
        self._make_end = make_end
        self._pace = pace
        self._note = note
        self._faults = faults
        self._rate = rate
        self._deaf_s = deaf_s
        # The default one waits whole milliseconds: a paced line needs finer.
        self._selector: selectors.BaseSelector = (
            selectors.DefaultSelector() if rate is None else selectors.SelectSelector()
        )
        self._lines: list[_Line] = []
        self._listener: int | None = None
        self._is_wire = link.listener() is None  # nobody calls: a serial line
        self._silent_until_s = 0.0
        self._away: tuple[float, str | None] | None = None

    def run(self, stop: Stop, for_s: float | None = None) -> None:
        """Answer until `stop` is set, or for so many seconds of the machine's time."""
        until = Deadline(for_s)
        self._selector.register(stop, selectors.EVENT_READ)
        self._listen()
        try:
            while not until.is_over:
                came = self._selector.select(self._wait_s(until.left_s))
                now_s = machine_s()
                for key, events in came:
                    if key.fileobj is stop:
                        if stop.obey():
                            return
                    elif isinstance(key.data, _Line):
                        if key.data in self._lines:
                            self._attend(key.data, events, now_s)
                    elif self._away is None and (call := self._link.accept()) is not None:
                        self._open(call)
                self._let_time_pass()
        finally:
            for line in self._lines:
                if not self._is_wire:
                    line.port.close()
            self._selector.close()
            if self._away is None:
                self._link.close()

    @property
    def has_said_all(self) -> bool:
        """Whether nothing waits to be sent; may be looked at from another thread."""
        return not any(line.waiting or not line.wire.has_said_all for line in list(self._lines))

    def go_out(self, outage: Outage) -> None:
        """Do what an outage asks for; in the serving thread only."""
        now_s = machine_s()
        while self._listener is not None and (call := self._link.accept()) is not None:
            self._open(call)
        for line in self._lines:
            line.wire.forget()
            line.waiting.clear()
        if outage.how == "silent" or (outage.is_reboot and self._is_wire):
            self._silent_until_s = now_s + outage.seconds
            return
        if outage.how != "reset" or self._is_wire:
            if self._away is None:
                # First, so that whoever is cut off finds nobody to call again.
                if self._listener is not None:
                    self._selector.unregister(self._listener)
                self._listener = None
                self._link.unplug()
            self._away = (now_s + outage.seconds, outage.name)
        for line in list(self._lines):
            self._drop(line, is_cut=True)

    def come_back(self) -> None:
        """End an outage now; in the serving thread only."""
        self._silent_until_s = 0.0
        if self._away is not None:
            _, name = self._away
            self._link.plug_in(name)
            self._away = None
            self._listen()

    def _listen(self) -> None:
        self._listener = self._link.listener()
        if self._listener is not None:
            self._selector.register(self._listener, selectors.EVENT_READ)
        for port in self._link.ports():
            self._open(port)

    def _wait_s(self, left_s: float | None) -> float | None:
        now_s = machine_s()
        times = [line.wire.wake_s(now_s) for line in self._lines]
        if self._away is not None:
            times.append(self._away[0])
        # A paced line looks again and again at the end of a wait: the system wakes it late.
        soon_s = 0.0 if self._rate is None else WAKES_LATE_S
        waits = [max(time - now_s - soon_s, 0.0) for time in times if time is not None]
        if left_s is not None:
            waits.append(left_s)
        return min(*waits, LONGEST_WAIT_S) if waits else None

    def _open(self, port: Port) -> None:
        wire = Wire(self._make_end(), self._faults, self._rate, self._deaf_s)
        line = _Line(port, wire)
        self._lines.append(line)
        self._selector.register(port, selectors.EVENT_READ, line)

    def _drop(self, line: _Line, *, is_cut: bool = False) -> None:
        self._lines.remove(line)
        self._selector.unregister(line.port)
        if is_cut:
            line.port.cut()
        else:
            line.port.close()

    def _attend(self, line: _Line, events: int, now_s: float) -> None:
        if events & selectors.EVENT_READ:
            data = line.port.read()
            if data == b"":
                self._drop(line)
                return
            if data is not None:
                t_s = self._pace.t_s()
                if now_s >= self._silent_until_s:
                    self._record(line, line.wire.feed(data, t_s, now_s - line.port.late_s))
        if line in self._lines:
            self._send(line)

    def _let_time_pass(self) -> None:
        now_s = machine_s()
        if self._away is not None and now_s >= self._away[0]:
            self.come_back()
        for line in list(self._lines):
            wake_s = line.wire.wake_s(now_s)
            if wake_s is None:
                continue
            if now_s >= self._silent_until_s:
                is_unasked = line.wire.end.every_s is not None
                exchanges = line.wire.tick(self._pace.t_s(), now_s)
                if is_unasked and line.waiting:
                    line.wire.forget()  # nobody takes it: the wire carries it to nobody
                self._record(line, exchanges)
            if line in self._lines:
                self._send(line)

    def _record(self, line: _Line, exchanges: list[Exchange]) -> None:
        for exchange in exchanges:
            self._note(exchange)
        for outage in line.wire.outages():
            self.go_out(outage)

    def _send(self, line: _Line) -> None:
        due = line.wire.take(machine_s())
        if len(line.waiting) < MOST_WAITING_BYTES:
            line.waiting += due
        if line.waiting:
            del line.waiting[: line.port.write(bytes(line.waiting))]
        wanted = selectors.EVENT_READ | (selectors.EVENT_WRITE if line.waiting else 0)
        if wanted != line.watched:
            line.watched = wanted
            self._selector.modify(line.port, wanted, line)
