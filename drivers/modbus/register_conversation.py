"""What the conversations with a Modbus unit on a serial line and on TCP share."""

from abc import ABC, abstractmethod
from collections.abc import Container
from typing import NoReturn

from drivers.base.clock import Clock
from drivers.errors import NoAnswer, SupplyRefused, SupplySilent
from drivers.link.asking_link import AskingLink
from drivers.link.dialogue import SILENT_LIMIT, Dialogue
from drivers.link.shared_link import SharedLink
from drivers.modbus.modbus_peace import Peace
from drivers.modbus.modbus_refusals import BACK_OFF, SILENCES, refusal_words
from drivers.modbus.register_question import RegisterQuestion
from drivers.reply_times import ReplyTimes

BACK_OFF_S = 1.0


class RegisterConversation(Dialogue, ABC):
    """One Modbus unit, asked for one block of registers at a time.

    Parameters
    ----------
    line
        Opened and closed by the caller; other units may share it.
    allowed
        The frames that may be sent, without their first `skips` bytes.
    sentinel
        The question that finds out who answers.
    clock
        For the deadlines.
    timeout_s
        The longest wait for one reply.
    who
        The supply's address, for messages.
    """

    def __init__(
        self,
        line: SharedLink,
        allowed: Container[bytes],
        skips: int,
        sentinel: RegisterQuestion,
        clock: Clock,
        timeout_s: float,
        who: str,
    ) -> None:
        super().__init__(AskingLink(line, allowed, skips), clock, timeout_s, who)
        self.line = line
        self.sentinel = sentinel
        self.times = ReplyTimes()
        self.notices: list[str] = []
        self.span_ns = (0, 0)
        """When the last answered question was sent, and when its reply had come."""
        self._peace = Peace(line, clock, timeout_s, who)

    @property
    @abstractmethod
    def is_numbered(self) -> bool:
        """Whether each reply carries the number of its question."""

    @abstractmethod
    def ask(self, question: RegisterQuestion) -> tuple[int, ...]:
        """The registers that were asked for.

        Raises
        ------
        NoAnswer, GarbledAnswer, SupplyRefused
            Ask again at the next poll.
        Reopen
            Where the link failed, or nobody has answered several times in a row.
        """

    def start_over(self) -> None:
        """Start on a link that was opened again."""

    def learn(
        self, sentinel: RegisterQuestion, may_refuse: bool = False, proves_each: bool = False
    ) -> tuple[int, ...]:
        """Ask the sentinel; the registers that it holds.

        Parameters
        ----------
        sentinel
            From now on the question that finds out who answers.
        may_refuse
            A refusal will do, too, and must be the same each time; then nothing is returned.
        proves_each
            Two questions have replies of one form. Both are only for replies without numbers.
        """
        self.sentinel = sentinel
        return self.ask(sentinel)

    def must_hold(self, registers: tuple[int, ...] | None) -> None:
        """Refuse a sentinel that holds other registers; None where they may change.

        Not needed where a reply carries the number of its question.
        """

    def _answered(self, taken_s: float) -> None:
        self._peace.answered(taken_s)
        self.span_ns = (self.sent_ns, self.clock.monotonic_ns())
        self.tally.answered += 1
        self.tally.slowest_s = max(self.tally.slowest_s, taken_s)
        self.times.add(taken_s)

    def _refused(self, question: RegisterQuestion, code: int, taken_s: float) -> NoReturn:
        """An exception came; where a gateway stands for a silent supply, it is no answer."""
        words = f"{self.who}: asked for {question.words}, got {refusal_words(code)}"
        if code in BACK_OFF:
            self._peace.rest(BACK_OFF_S)
        if code in SILENCES:
            self._peace.was_silent(taken_s)
            raise NoAnswer(words)
        raise SupplyRefused(words)

    def _silent(self, question: RegisterQuestion, waited_s: float) -> NoReturn:
        self._peace.was_silent(waited_s)
        times = self._peace.silences
        asked = f"{self.who}: asked for {question.words}, nothing came"
        cure = (
            "check that the supply is on, its cable, its baud rate, and that it is unit "
            f"{question.unit}"
        )
        if times % SILENT_LIMIT == 0:
            raise SupplySilent(f"{asked}, {times} times in a row: {cure}")
        late = "; replies have come late: try a longer timeout" if self.tally.late else ""
        raise NoAnswer(f"{asked} within {waited_s:g} s: {cure}{late}")
