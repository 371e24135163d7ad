"""What all conversations on a link share: deadlines, silence, and a count of events.

How question and answer are kept in step is each protocol's own: `text/conversation.py`,
`modbus/modbus_rtu.py` and `modbus/modbus_tcp.py` begin with their rules.
"""

from dataclasses import dataclass

from drivers.base.clock import Clock
from drivers.errors import GarbledAnswer
from drivers.link.link import Link, after, drain

SILENT_LIMIT = 3
"""After this many questions in a row without an answer the link must be opened again."""
SETTLE_TIMEOUTS = 4
"""After this many time-outs of silence nothing can still come."""


@dataclass(slots=True)
class Tally:
    """What has happened on one link since the driver was made.

    Parameters
    ----------
    asked, answered
        Questions sent, and those of them answered in time and form.
    late
        Lines that came when nobody waited for them.
    garbled, echoes
        Lines that could not be understood, and our own questions coming back.
    resyncs
        How often question and answer were brought back into step.
    slowest_s
        The longest time to a good answer, seconds.
    """

    asked: int = 0
    answered: int = 0
    late: int = 0
    garbled: int = 0
    echoes: int = 0
    resyncs: int = 0
    slowest_s: float = 0.0


class Dialogue:
    """One supply on one link, asked one question at a time.

    It knows no form of question or answer: only deadlines, silence, and what comes unasked.

    Parameters
    ----------
    link
        Opened and closed by the caller.
    clock
        For the deadlines.
    timeout_s
        The longest wait for one answer.
    who
        The supply's address, for messages.
    """

    def __init__(self, link: Link, clock: Clock, timeout_s: float, who: str) -> None:
        self.link = link
        self.clock = clock
        self.timeout_s = timeout_s
        self.who = who
        self.tally = Tally()
        self.sent_ns = 0
        """When the last question went out."""
        self._heard_ns = 0
        self._limit_ns = 0

    def begin(self, limit_s: float) -> None:
        """Set the time within which all that is asked until the next `begin` must be done."""
        self._limit_ns = after(self.clock, limit_s)

    def hear_out(self, seconds: float) -> None:
        """Throw away all that comes for a time, such as the greeting of a board that starts."""
        if seconds > 0.0:
            until_ns = self._deadline_ns(seconds)
            while self.clock.monotonic_ns() < until_ns:
                self._read(until_ns)

    def _deadline_ns(self, seconds: float) -> int:
        return min(after(self.clock, seconds), self._limit_ns)

    def _left_s(self) -> float:
        """Seconds until all that is asked must be done."""
        return max((self._limit_ns - self.clock.monotonic_ns()) / 1e9, 0.0)

    def _send(self, message: bytes, within_s: float) -> None:
        self.tally.asked += 1
        self.link.write(message, self._deadline_ns(within_s))
        self.sent_ns = self._heard_ns = self.clock.monotonic_ns()

    def _read(self, deadline_ns: int) -> bytes:
        """What has come, or comes until the deadline; b"" for nothing."""
        data = self.link.read(deadline_ns)
        if data:
            self._heard_ns = self.clock.monotonic_ns()
        return data

    def _silent_s(self) -> float:
        """Seconds since the last byte, either way."""
        return (self.clock.monotonic_ns() - self._heard_ns) / 1e9

    def _settled_in_s(self) -> float:
        """Seconds until nothing that is under way can still come, if nothing comes."""
        return SETTLE_TIMEOUTS * self.timeout_s - self._silent_s()

    def _throw_away(self, quiet_s: float, deadline_ns: int) -> int:
        """Throw away what comes until the line is quiet; how many bytes that were.

        Raises
        ------
        GarbledAnswer
            Where bytes are still coming at the deadline.
        """
        drained = drain(self.link, self.clock, quiet_s, deadline_ns)
        if not drained.count:
            return 0
        self.tally.late += 1
        silent_ns = int(quiet_s * 1e9) if drained.is_quiet else 0
        self._heard_ns = self.clock.monotonic_ns() - silent_ns
        if not drained.is_quiet:
            self.tally.garbled += 1
            raise GarbledAnswer(
                f"{self.who}: bytes keep coming without a question "
                f"({drained.count}, the last: {drained.last.hex(' ')}): check baud rate, parity "
                "and wiring, and that no other program talks on this line"
            )
        return drained.count
