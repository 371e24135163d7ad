"""An open link and a question for registers in, the registers and raw bytes out; for setting up.

A recorder's driver knows what it asks for; here all kinds of blocks are tried in turn, so after
each question without an answer nothing is taken until the line has been quiet for long.
"""

from collections.abc import Container
from dataclasses import dataclass

from drivers.answer import NotUnderstood
from drivers.clock import Clock
from drivers.link import Link, after, drain
from drivers.modbus_codec import (
    Refusal,
    Registers,
    is_rtu_reply,
    read_rtu,
    read_tcp,
    rtu_frame,
    tcp_frame,
    tcp_reply,
)
from drivers.register_question import ReadingLink, RegisterQuestion

QUIET_S = 0.03
SETTLE_TIMEOUTS = 3


@dataclass(frozen=True, slots=True)
class Block:
    """What one question for registers brought.

    Parameters
    ----------
    values
        The registers; None where the unit refused them, or did not answer.
    refusal
        The exception code, where the unit refused.
    raw
        The whole frame that came; b"" for none.
    """

    question: RegisterQuestion
    values: tuple[int, ...] | None
    refusal: int | None
    raw: bytes

    @property
    def is_answered(self) -> bool:
        """Whether anybody is there."""
        return self.raw != b""


class AskingRegisters:
    """Asks one unit after the other, one block after the other.

    Parameters
    ----------
    link
        Open, and used by nobody else.
    is_tcp
        Whether frames are those of Modbus/TCP or of a serial line.
    timeout_s
        The longest wait for one answer.
    """

    def __init__(self, link: Link, clock: Clock, is_tcp: bool, timeout_s: float) -> None:
        self.clock = clock
        self.is_tcp = is_tcp
        self.timeout_s = timeout_s
        self._sent: set[bytes] = set()
        allowed: Container[bytes] = self._sent
        self._link = ReadingLink(link, allowed, skips=2 if is_tcp else 0)
        self._transaction = 0

    def ask(self, question: RegisterQuestion) -> Block:
        """Ask for one block.

        Raises
        ------
        DriverError
            Where the link fails; silence and refusals are no failures here.
        """
        drain(self._link, self.clock, QUIET_S, after(self.clock, self.timeout_s))
        self._transaction = self._transaction % 0xFFFF + 1
        frame = tcp_frame(question, self._transaction) if self.is_tcp else rtu_frame(question)
        self._sent.clear()
        self._sent.add(frame[2:] if self.is_tcp else frame)
        self._link.write(frame, after(self.clock, self.timeout_s))
        came = b""
        deadline_ns = after(self.clock, self.timeout_s)
        while data := self._link.read(deadline_ns):
            came = (came + data).removeprefix(b"" if self.is_tcp else frame)
            block = self._understood(question, came)
            if block is not None:
                return block
        settle_s = SETTLE_TIMEOUTS * self.timeout_s
        drain(self._link, self.clock, settle_s, after(self.clock, 2 * settle_s))
        return Block(question, None, None, b"")

    def _understood(self, question: RegisterQuestion, came: bytes) -> Block | None:
        try:
            if not self.is_tcp:
                return (
                    _block(question, read_rtu(came), came) if is_rtu_reply(question, came) else None
                )
            while (found := tcp_reply(came)) is not None:
                reply, rest = found
                if reply.transaction == self._transaction:
                    raw = came[: len(came) - len(rest)]
                    return _block(question, read_tcp(question, reply), raw)
                came = rest
        except NotUnderstood:
            return None
        return None


def _block(question: RegisterQuestion, reply: Registers | Refusal, raw: bytes) -> Block:
    if isinstance(reply, Refusal):
        return Block(question, None, reply.code, raw)
    return Block(question, reply.values, None, raw)
