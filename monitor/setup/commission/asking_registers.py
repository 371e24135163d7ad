"""Asks Modbus units for registers while nothing is known of them yet.

A recorder's driver knows what it asks for; here all kinds of blocks are tried in turn, so after
each question without an answer nothing is taken until the line has been quiet for long. A unit that
answered before and is silent now may need a longer rest between two frames: it is given one.
"""

from collections import deque
from collections.abc import Container
from dataclasses import dataclass, replace

from drivers.base.clock import Clock
from drivers.errors import NotUnderstood
from drivers.link.asking_link import AskingLink
from drivers.link.link import Link, after, drain
from drivers.modbus.modbus_codec import Refusal, Registers, read_tcp, tcp_frame, tcp_reply
from drivers.modbus.modbus_refusals import GATEWAY_SILENCES
from drivers.modbus.register_question import RegisterQuestion
from drivers.modbus.serial_framing import ASCII, RTU

QUIETS_S = (0.03, 0.1, 0.25, 0.55)
"""Rests before a question: the next one where a unit that is there does not hear."""
SETTLE_TIMEOUTS = 3
_FIRST_NUMBER = 0x4D00  # a device that counts for itself, or sends 0, begins elsewhere
_NUMBERS_KEPT = 64


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
    took_s
        From the question to the reply; 0.0 for none.
    """

    question: RegisterQuestion
    values: tuple[int, ...] | None
    refusal: int | None
    raw: bytes
    took_s: float = 0.0

    @property
    def is_answered(self) -> bool:
        """Whether the unit answered, and not a gateway that stands for it."""
        return self.raw != b"" and self.refusal not in GATEWAY_SILENCES


class AskingRegisters:
    """Asks one unit after the other, one block after the other.

    Parameters
    ----------
    link
        Open, and used by nobody else.
    framing
        "tcp", "rtu" or "ascii".
    timeout_s
        The longest wait for one answer.
    gap_s
        The silence between two frames that the standard asks for on this line.
    """

    def __init__(
        self, link: Link, clock: Clock, framing: str, timeout_s: float, gap_s: float = 0.0
    ) -> None:
        self.clock = clock
        self.framing = framing
        self.numbers_replies = True
        """False once a reply on TCP has come under another number than its question's."""
        self.timeout_s = timeout_s
        self.gap_s = gap_s
        self._sent: set[bytes] = set()
        allowed: Container[bytes] = self._sent
        self._link = AskingLink(link, allowed, skips=2 if framing == "tcp" else 0)
        self._serial = ASCII if framing == "ascii" else RTU
        self._numbers = deque([_FIRST_NUMBER], _NUMBERS_KEPT)
        self._quiet_s = QUIETS_S[0]
        self._heard: set[int] = set()

    def ask(self, question: RegisterQuestion) -> Block:
        """Ask for one block.

        Raises
        ------
        DriverError
            Where the link fails; silence and refusals are no failures here.
        """
        for quiet_s in [rest_s for rest_s in QUIETS_S if rest_s >= self._quiet_s]:
            block = self.ask_after(question, quiet_s, self.timeout_s)
            if block.is_answered:
                self._quiet_s = quiet_s
                self._heard.add(question.unit)
            if block.is_answered or question.unit not in self._heard:
                break
        return block

    def ask_after(self, question: RegisterQuestion, quiet_s: float, wait_s: float) -> Block:
        """Ask once the line has been quiet for so long, and wait so long for the reply.

        Raises
        ------
        DriverError
            Where the link fails.
        """
        drain(self._link, self.clock, quiet_s, after(self.clock, quiet_s + self.timeout_s))
        is_tcp = self.framing == "tcp"
        self._numbers.append(self._numbers[-1] % 0xFFFF + 1)
        frame = tcp_frame(question, self._numbers[-1]) if is_tcp else self._serial.frame(question)
        self._sent.clear()
        self._sent.add(frame[2:] if is_tcp else frame)
        asked_ns = self.clock.monotonic_ns()
        self._link.write(frame, after(self.clock, self.timeout_s))
        came = b""
        deadline_ns = after(self.clock, wait_s)
        while data := self._link.read(deadline_ns):
            came += data
            understood = self._understood_numbered if is_tcp else self._understood
            block = understood(question, came, frame)
            if block is not None:
                return replace(block, took_s=(self.clock.monotonic_ns() - asked_ns) / 1e9)
        settle_s = SETTLE_TIMEOUTS * wait_s
        drain(self._link, self.clock, settle_s, after(self.clock, 2 * settle_s))
        return Block(question, None, None, b"")

    def _understood(self, question: RegisterQuestion, came: bytes, sent: bytes) -> Block | None:
        """The reply behind an echo, other units' frames and what a line driver adds."""
        framing = self._serial
        while came:
            try:
                frame = framing.reply_in(came, question)
                if frame is not None:
                    return _block(question, frame.content(), came[: frame.length])
            except NotUnderstood:
                return None
            other = framing.any_reply_in(came)
            if came.startswith(sent):
                came = came.removeprefix(sent)
            elif other is not None and other.unit != question.unit:
                came = came[other.length :]
            elif noise := framing.noise_in(came, question.unit):
                came = came[noise:]
            else:
                break
        return None

    def _understood_numbered(
        self, question: RegisterQuestion, came: bytes, sent: bytes
    ) -> Block | None:
        try:
            while (frame := tcp_reply(came)) is not None:
                reply, rest = frame
                number, raw = self._numbers[-1], came[: len(came) - len(rest)]
                if reply.transaction == number or reply.transaction not in self._numbers:
                    block = _block(question, read_tcp(question, reply), raw)
                    self.numbers_replies &= reply.transaction == number
                    return block
                came = rest
        except NotUnderstood:
            return None
        return None


def _block(question: RegisterQuestion, reply: Registers | Refusal, raw: bytes) -> Block:
    if isinstance(reply, Refusal):
        return Block(question, None, reply.code, raw)
    return Block(question, reply.values, None, raw)
