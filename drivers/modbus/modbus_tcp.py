"""The conversation with a Modbus unit on TCP: every reply is proven to fit its question.

Numbered rules, each with its test:

1. Each question has a number of its own. A question counts as answered when a reply with its
   number, unit, function and length comes before the deadline.
2. The late reply to a question that was given up is known by its number, dropped and counted.
3. Anything else that comes, or that cannot be a frame, drops the connection: nothing behind it
   can be trusted.
4. Three questions in a row without an answer: the connection is to be opened anew. It is never
   called healthy because the socket still stands.
"""

from collections.abc import Sequence
from typing import NoReturn

from drivers.base.clock import Clock
from drivers.errors import NotUnderstood, Reopen
from drivers.link.link import LAST_BYTES
from drivers.link.shared_link import SharedLink
from drivers.modbus.modbus_codec import Refusal, TcpReply, read_tcp, tcp_frame, tcp_reply
from drivers.modbus.register_conversation import RegisterConversation
from drivers.modbus.register_question import RegisterQuestion

_NUMBERS = 0x10000
_NUMBER_BYTES = 2
_PAST = 0


class TcpReplies:
    """What has come on one connection, for all units behind it; kept with the connection.

    Parameters
    ----------
    next_number
        Of the next question; goes round after 65535.
    given_up
        Numbers of questions whose replies would come too late, by unit.
    """

    def __init__(self) -> None:
        self.next_number = 0
        self.given_up: dict[int, int] = {}
        self.data = b""


class TcpConversation(RegisterConversation):
    """One unit on one connection; takes what `RtuConversation` takes."""

    def __init__(
        self,
        line: SharedLink,
        questions: Sequence[RegisterQuestion],
        sentinel: RegisterQuestion,
        clock: Clock,
        timeout_s: float,
        who: str,
    ) -> None:
        allowed = frozenset(tcp_frame(question, 0)[_NUMBER_BYTES:] for question in questions)
        super().__init__(line, allowed, _NUMBER_BYTES, sentinel, clock, timeout_s, who)

    @property
    def is_numbered(self) -> bool:
        return True

    def ask(self, question: RegisterQuestion) -> tuple[int, ...]:
        self._peace.refuse_while_resting()
        state = self.line.state(TcpReplies)
        self._drop_late(state, _PAST)
        number = state.next_number
        state.next_number = (number + 1) % _NUMBERS
        patience_s = self._peace.patience_s
        deadline_ns = self._deadline_ns(patience_s)
        state.given_up.pop(number, None)
        self._send(tcp_frame(question, number), patience_s)
        sent_ns = self.clock.monotonic_ns()
        while True:
            reply = self._next(state, question)
            if reply is None:
                if self._hear(state, deadline_ns):
                    continue
                state.given_up[number] = question.unit
                self._silent(question, patience_s)
            if reply.transaction == number:
                return self._take(question, reply, sent_ns)
            self._refuse_unless_late(state, reply)

    def _drop_late(self, state: TcpReplies, deadline_ns: int) -> None:
        while self._hear(state, deadline_ns):
            pass
        while (reply := self._next(state, self.sentinel)) is not None:
            self._refuse_unless_late(state, reply)

    def _hear(self, state: TcpReplies, deadline_ns: int) -> bool:
        data = self._read(deadline_ns)
        state.data += data
        return bool(data) and (deadline_ns == _PAST or self.clock.monotonic_ns() < deadline_ns)

    def _next(self, state: TcpReplies, question: RegisterQuestion) -> TcpReply | None:
        try:
            whole = tcp_reply(state.data)
        except NotUnderstood as error:
            self._break_off(question, state.data, str(error))
        if whole is None:
            return None
        reply, state.data = whole
        return reply

    def _refuse_unless_late(self, state: TcpReplies, reply: TcpReply) -> None:
        if state.given_up.pop(reply.transaction, None) != reply.unit:
            self._break_off(
                self.sentinel, reply.pdu, f"a reply with number {reply.transaction}, never asked"
            )
        self.tally.late += 1

    def _take(self, question: RegisterQuestion, reply: TcpReply, sent_ns: int) -> tuple[int, ...]:
        try:
            content = read_tcp(question, reply)
        except NotUnderstood as error:
            self._break_off(question, reply.pdu, str(error))
        taken_s = (self.clock.monotonic_ns() - sent_ns) / 1e9
        if isinstance(content, Refusal):
            self._refused(question, content.code, taken_s)
        self._answered(taken_s)
        return content.values

    def _break_off(self, question: RegisterQuestion, data: bytes, why: str) -> NoReturn:
        self.tally.garbled += 1
        self.line.fail()
        raise Reopen(
            f"{self.who}: asked for {question.words}, got {why} "
            f"(the last bytes: {data[-LAST_BYTES:].hex(' ')}): the connection is dropped; does "
            "the port belong to a Modbus device, and does it number its replies? If not, "
            "numbers_replies = false in [talk] of its description"
        )
