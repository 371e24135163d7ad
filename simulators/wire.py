"""The wire between a port and a protocol's end: it delays bytes by the line's rate and by faults.

Two times meet here: the bath's (`t_s`), which values belong to, and the machine's (`now_s`), which
the wire runs by. No I/O, no clock.

1. On a line with a rate a message takes its time to come, and the answer to go.
2. Where frames need silences, what comes before the silence is over is not heard, nor is
   what follows it without a silence of its own.
3. A silence ends a message where the protocol says so.
"""

from dataclasses import replace

from simulators.exchange import End, Exchange
from simulators.fault_track import FaultTrack, Outage
from simulators.faults import Faults
from simulators.line_rate import LineRate
from simulators.outbox import Outbox

NO_GAP = "no-gap"


class Wire:
    """One open port's way to the supply and back.

    Parameters
    ----------
    end
        The protocol's end.
    faults
        What goes wrong; nothing if None.
    rate
        Of the line; as fast as can be if None.
    deaf_s
        So long after its answer the supply hears nothing, beside the silence that the line needs.
    """

    def __init__(
        self,
        end: End,
        faults: Faults | None = None,
        rate: LineRate | None = None,
        deaf_s: float = 0.0,
    ) -> None:
        self.end = end
        self._track = None if faults is None else FaultTrack(end, faults)
        self._character_s = 0.0 if rate is None else rate.character_s
        self._turn_s = 0.0 if rate is None else rate.gap_s
        self._gap_s = max(self._turn_s, deaf_s)
        self._quiet_s = end.quiet_s if not self._turn_s else min(self._turn_s, end.quiet_s or 1.0)
        self._outbox = Outbox()
        self._heard_s = float("-inf")
        self._is_deaf = False
        self._speaks_s: float | None = None
        self._outages: list[Outage] = []

    def feed(self, data: bytes, t_s: float, now_s: float) -> list[Exchange]:
        """Take bytes that came now; give what is to be put on record."""
        done = self._settle(t_s, now_s)
        if self._gap_s and not self.end.has_part:
            busy_s = max(self._heard_s, self._outbox.ends_s)
            self._is_deaf = now_s < busy_s + self._gap_s
        self._heard_s = max(now_s, self._heard_s) + len(data) * self._character_s
        if self._is_deaf:
            return [*done, replace(self.end.unheard(data, t_s), fault=NO_GAP)]
        if self._track is not None:
            self._track.prepare(t_s)
        self.end.feed(data, t_s)
        return [*done, *self._collect(self._heard_s + self._turn_s)]

    def tick(self, t_s: float, now_s: float) -> list[Exchange]:
        """Let time pass: silences end messages, and who speaks unasked speaks."""
        done = self._settle(t_s, now_s)
        every_s = self.end.every_s
        if every_s is not None:
            if self._speaks_s is None:
                self._speaks_s = now_s + every_s
            elif now_s >= self._speaks_s:
                missed = int((now_s - self._speaks_s) / every_s)
                self._speaks_s += (missed + 1) * every_s
                self.end.speak(t_s)
                done += self._collect(now_s)
        return done

    @property
    def has_said_all(self) -> bool:
        """Whether nothing is still to be sent."""
        return self._outbox.wake_s(0.0) is None

    def take(self, now_s: float) -> bytes:
        """What is due to be sent, once."""
        return self._outbox.take(now_s)

    def wake_s(self, now_s: float) -> float | None:
        """When something falls due by itself; None for never."""
        times = [self._outbox.wake_s(now_s)]
        if self._quiet_s is not None and self.end.has_part:
            times.append(self._heard_s + self._quiet_s)
        if self.end.every_s is not None:
            times.append(now_s if self._speaks_s is None else self._speaks_s)
        return min((time for time in times if time is not None), default=None)

    def outages(self) -> list[Outage]:
        """What the transport is to do, once."""
        outages, self._outages = self._outages, []
        return outages

    def forget(self) -> None:
        """Drop what has not gone yet."""
        self._outbox.clear()

    def _settle(self, t_s: float, now_s: float) -> list[Exchange]:
        if self._quiet_s is None or not self.end.has_part or now_s < self._heard_s + self._quiet_s:
            return []
        if self._track is not None:
            self._track.prepare(t_s)
        self.end.pause(t_s)
        return self._collect(now_s)

    def _collect(self, from_s: float) -> list[Exchange]:
        self.end.take()
        done = []
        for exchange in self.end.exchanges():
            if self._track is None:
                self._outbox.put(exchange.sent, from_s, self._character_s)
                done.append(exchange)
                continue
            passed = self._track.let_pass(exchange)
            for piece in passed.pieces:
                slowest_s = max(piece.per_byte_s, self._character_s)
                self._outbox.put(piece.data, from_s + piece.wait_s, slowest_s)
            if passed.outage is not None:
                self._outages.append(passed.outage)
            done.append(passed.exchange)
        return done
