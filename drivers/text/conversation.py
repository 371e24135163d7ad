"""The conversation with a supply in text: every answer is proven to fit its question.

Numbered rules, each with its test:

1. Before a question the line must be empty; what still waits there means "out of step".
2. A question counts as answered when one whole line comes before the deadline, nothing stands
   behind it, and it is of the form that the question asks for. Anything else is "out of step".
3. Out of step, nothing is taken for an answer: the line is drained until it is quiet, then the
   sentinel is asked, whose answer is known; only when exactly that comes, and nothing behind it,
   is the conversation in step again. Whatever comes before it is late, and thrown away.
4. Only one sentinel is ever under way: were there two, the late answer to the first would be
   taken for that to the second, with questions between them still to be answered. A sentinel
   counts as lost once nothing has come for `SETTLE_TIMEOUTS` time-outs; where others talk on the
   line all the time, `LOST_TIMEOUTS` after it was sent. This holds over a reopening, too.
5. Three questions in a row without an answer: the link is to be opened anew.
6. Our own question coming back (an echo) is skipped.
7. Where no question has a known answer, the way back into step is silence: nothing has come for
   `SETTLE_TIMEOUTS` time-outs. If a question is still without its answer then, a supply that stood
   still may answer it yet: a question is asked whose answer is thrown away, until exactly one line
   comes for it, and nothing for a time-out behind it.
8. Where answers have no end, a silence of `idle_s` ends them, or their length.
9. Before a question the supply has its rest, and prompts and the like around answers are skipped.
10. `prove_order` makes sure that no answer of a round was that to an earlier question, doubled or
   late: the sentinel must be answered right behind them; without one nothing must come for as long
   as answers take.

What this rests on: a supply answers in the order in which it is asked, and no later than
`SETTLE_TIMEOUTS` time-outs after the last byte. Noise that turns a digit into another digit
cannot be seen: answers in text carry no check sum.
"""

from collections.abc import Callable
from typing import NoReturn, TypeVar

from drivers.base.clock import Clock
from drivers.base.inert import inert
from drivers.errors import (
    AskAgain,
    GarbledAnswer,
    NoAnswer,
    NotUnderstood,
    SupplyRefused,
    SupplySilent,
)
from drivers.link.asking_link import AskingLink
from drivers.link.dialogue import SETTLE_TIMEOUTS, SILENT_LIMIT, Dialogue
from drivers.link.line_buffer import LineBuffer
from drivers.link.link import after
from drivers.text.answer import SupplyError, read_supply_error
from drivers.text.talk_style import PLAIN_STYLE, Extent, TalkStyle
from drivers.text.text_question import TextQuestion

T = TypeVar("T")

_PAST = 0
FADES = 0.98
"""By this the slowest answer of late is forgotten with each answer."""
SLOW_SHARE = 1.5
LOST_TIMEOUTS = 2 * SETTLE_TIMEOUTS
PROBES = 3
PROOFS = 200
"""Polls whose order is proven after an answer came twice."""


class Conversation(Dialogue):
    """One supply on one link, asked one question at a time.

    Parameters
    ----------
    link
        Opened and closed by the caller.
    clock
        For the deadlines.
    timeout_s
        The longest wait for one answer.
    quiet_s
        For how long nothing must come until the line counts as quiet.
    who
        The supply's address, for messages.
    idle_s
        The silence that ends an answer; None where it ends in CR or LF.
    has_sentinel
        False where no question has a known answer.
    style
        What else there is to know of how the supply talks.
    probe
        Without a sentinel: the question by which order is proven after trouble.
    """

    def __init__(
        self,
        link: AskingLink,
        clock: Clock,
        timeout_s: float,
        quiet_s: float,
        who: str,
        idle_s: float | None = None,
        has_sentinel: bool = True,
        style: TalkStyle = PLAIN_STYLE,
        probe: TextQuestion | None = None,
    ) -> None:
        super().__init__(link, clock, timeout_s, who)
        self.quiet_s = quiet_s
        self.idle_s = idle_s
        self.has_sentinel = has_sentinel
        self.style = style
        self.unended = b""
        self.breaks = 0
        self.proofs_left = 0
        self._probe = probe
        self._owed = 0
        self._slow_s = 0.0
        self._lines = LineBuffer(ignored=style.ignored)
        self._sentinel: tuple[TextQuestion, str] | None = None
        self._is_in_step = False
        self._is_unanswered = False
        self._is_sentinel_under_way = False
        self._silent_in_a_row = 0

    def start_over(self) -> None:
        """Start on a link that was opened again, once nothing can still come on it."""
        self._lines.discard()
        self._is_in_step = False
        self._silent_in_a_row = 0
        if self._is_unanswered:
            self._wait_until_settled()

    def distrust(self) -> None:
        """Question and answer do not fit together: wait until nothing can still come."""
        self._is_in_step = False
        self._heard_ns = self.clock.monotonic_ns()
        self._wait_until_settled()

    def set_sentinel(self, question: TextQuestion, answer: str) -> None:
        """Name the question whose answer is known; it has just been asked, and so answered."""
        self._sentinel = (question, answer)
        self._is_in_step = True

    def ask(self, question: TextQuestion, understand: Callable[[str], T]) -> T:
        """Ask one question; `understand` makes a value of the line, or raises `NotUnderstood`.

        Raises
        ------
        NoAnswer, GarbledAnswer, SupplyRefused
            Ask again at the next poll.
        Reopen
            Where the link failed, or nobody has answered several times in a row.
        """
        self._give_rest()
        self._fall_into_step()
        asked_ns = self.clock.monotonic_ns()
        text = self._exchange(question)
        try:
            value = understand(text)
        except NotUnderstood as error:
            self._not_understood(question, text, error)
        self._is_in_step = True
        self._is_unanswered = False
        self.tally.answered += 1
        taken_s = (self.clock.monotonic_ns() - asked_ns) / 1e9
        self.tally.slowest_s = max(self.tally.slowest_s, taken_s)
        self._slow_s = max(taken_s, FADES * self._slow_s)
        return value

    def prove_order(self) -> None:
        """Make sure that each answer since the last proof was that to its own question.

        Raises
        ------
        GarbledAnswer
            Where it was not: none of them must be used.
        NoAnswer, Reopen
            As `ask` does.
        """
        if not self.has_sentinel:
            # The true answer to the last question would come by then.
            wait_ns = int((SLOW_SHARE * self._slow_s + self.quiet_s) * 1e9)
            self._refuse_more_until(min(self.sent_ns + wait_ns, self._limit_ns))
            return
        if self._sentinel is None:
            raise ValueError("no sentinel is known yet: ask_unproven learns it")
        question, known = self._sentinel
        self._is_in_step = False
        self._put(question)
        self._is_sentinel_under_way = True
        text = self._await_line(question, self._deadline_ns(self.timeout_s))
        if text != known:
            self.tally.garbled += 1
            self._refuse_order(text)
        self._is_sentinel_under_way = self._is_unanswered = False
        self._refuse_more(question, text)
        self.tally.answered += 1
        self._is_in_step = True

    def _refuse_more_until(self, until_ns: int) -> None:
        while data := self._read(until_ns):
            self._lines.feed(data)
            if more := self._lines.pending:
                self._is_in_step = False
                self.tally.late += 1
                self._refuse_order(more.decode("latin-1"))

    def _refuse_order(self, text: str) -> NoReturn:
        raise GarbledAnswer(
            f"{self.who}: {inert(text, 40)!r} came behind the answers: one of them was given "
            "twice, or late; none of them is used"
        )

    def settle(self) -> None:
        """Make sure of being in step; raises as `ask` does where that fails."""
        self._fall_into_step()

    def ask_unproven(self, question: TextQuestion) -> str:
        """Drain, ask, and return whatever line comes: for learning the sentinel's answer."""
        self._is_in_step = False
        self._drain()
        text = self._exchange(question)
        self._is_unanswered = False
        self.tally.answered += 1
        return text

    def _fall_into_step(self) -> None:
        if self._is_in_step:
            self._lines.feed(self._read(_PAST))
            if not self._lines.discard():
                return
            self.tally.late += 1
            self.breaks += 1
            self.proofs_left = PROOFS
            self._is_in_step = False
        if not self.has_sentinel:
            self._wait_until_settled()
            self._drain()
            if self._owed and self._probe is not None:
                self._find_order(self._probe)
            self._is_in_step = True
            return
        if self._sentinel is None:
            raise ValueError("no sentinel is known yet: ask_unproven learns it")
        question, known = self._sentinel
        if not self._is_sentinel_under_way:
            self._drain()
            self._put(question)
            self._is_sentinel_under_way = True
        late: str | None = None
        try:
            deadline_ns = self._deadline_ns(self.timeout_s)
            while (text := self._await_line(question, deadline_ns)) != known:
                self.tally.late += 1
                late = text
        except AskAgain as error:
            sent_s = (self.clock.monotonic_ns() - self.sent_ns) / 1e9
            if self._settled_in_s() <= 0.0 or sent_s > LOST_TIMEOUTS * self.timeout_s:
                self._is_sentinel_under_way = self._is_unanswered = False
            if late is None:
                raise
            raise NoAnswer(
                f"{self.who}: asked {question.text}, got {inert(late)!r} instead of "
                f"{inert(known)!r}: a late answer, or another supply; try a longer timeout"
            ) from error
        self._is_sentinel_under_way = self._is_unanswered = False
        self._refuse_more(question, text)
        self.tally.answered += 1
        self.tally.resyncs += 1
        self._is_in_step = True

    def _exchange(self, question: TextQuestion) -> str:
        self._is_in_step = False
        self._put(question)
        text = self._await_line(question, self._deadline_ns(self.timeout_s))
        self._refuse_more(question, text)
        return text

    def _find_order(self, probe: TextQuestion) -> None:
        """Ask until exactly one line comes, and nothing behind it; its answer is not used."""
        for _ in range(PROBES):
            text = self._exchange(probe)
            try:
                self._refuse_more_until(self._deadline_ns(self.timeout_s))
            except GarbledAnswer:
                self._drain()
                continue
            self._owed, self._is_unanswered = 0, False
            self.tally.resyncs += 1
            return
        self._refuse_order(text)

    def _put(self, question: TextQuestion) -> None:
        self._give_rest()
        self._is_unanswered = True
        self._owed += 1
        self._send(question.wire, self.timeout_s)

    def _give_rest(self) -> None:
        rest_s = self.style.rest_s - self._silent_s()
        if self.style.rest_s > 0.0 and rest_s > 0.0:
            self.clock.wait(min(rest_s, self._left_s()))

    def _wait_until_settled(self) -> None:
        deadline_ns = min(after(self.clock, 2 * SETTLE_TIMEOUTS * self.timeout_s), self._limit_ns)
        while (left_s := self._settled_in_s()) > 0.0:
            if self.clock.monotonic_ns() >= deadline_ns:
                raise NoAnswer(f"{self.who}: answers may still be under way: trying again later")
            self._drain(left_s, deadline_ns)
        self._is_sentinel_under_way = self._is_unanswered = False

    def _drain(self, quiet_s: float | None = None, deadline_ns: int | None = None) -> None:
        self._lines.discard()
        self._throw_away(
            self.quiet_s if quiet_s is None else quiet_s,
            self._deadline_ns(self.timeout_s) if deadline_ns is None else deadline_ns,
        )

    def _await_line(self, question: TextQuestion, deadline_ns: int) -> str:
        is_over = False
        extent = self.style.extents.get(question.text, Extent())
        came: list[str] = []
        while True:
            while (text := self._take(question, extent)) is not None:
                if text == question.text:
                    self.tally.echoes += 1
                    continue
                came.append(text)
                if len(came) == extent.lines:
                    self._silent_in_a_row = 0
                    self._owed = max(self._owed - 1, 0)
                    return "\n".join(came)
            if is_over:
                self._unanswered(question)
            until_ns = deadline_ns
            if self.idle_s is not None and self._lines.pending:
                until_ns = min(deadline_ns, self._heard_ns + int(self.idle_s * 1e9))
            if data := self._read(until_ns):
                self._lines.feed(data)
                is_over = self.clock.monotonic_ns() >= deadline_ns
            elif until_ns < deadline_ns:
                self._lines.end()
            else:
                is_over = True

    def _take(self, question: TextQuestion, extent: Extent) -> str | None:
        # Without an end of its own the question's echo is no line, and stands before the answer.
        if question.wire.endswith(b"?") and self._lines.drop_echo(question.wire):
            self.tally.echoes += 1
        if extent.length is not None:
            return self._lines.take_exactly(extent.length)
        return self._lines.take()

    def _refuse_more(self, question: TextQuestion, text: str) -> None:
        if more := self._lines.pending:
            self.proofs_left = PROOFS
            self.tally.garbled += 1
            raise GarbledAnswer(
                f"{self.who}: asked {question.text}, got {inert(text)!r} and more behind it "
                f"({inert(more.decode('latin-1'))!r}): none of it is used; does another program "
                "talk on this line?"
            )

    def _unanswered(self, question: TextQuestion) -> NoReturn:
        asked = f"{self.who}: asked {question.text}"
        partial = self._lines.pending
        self.unended = partial
        if partial:
            self.tally.garbled += 1
            self._silent_in_a_row = 0
            raise GarbledAnswer(
                f"{asked}, got {len(partial)} bytes without an end "
                f"({inert(partial.decode('latin-1'), 40)!r}) within {self.timeout_s:g} s: check "
                "baud rate, parity and wiring, or give the supply more time"
            )
        self._silent_in_a_row += 1
        if self._silent_in_a_row >= SILENT_LIMIT:
            raise SupplySilent(
                f"{asked}, nothing came, {self._silent_in_a_row} times in a row: "
                "check that the supply is on, its cable and its baud rate"
            )
        late = "; answers have come late: try a longer timeout" if self.tally.late else ""
        raise NoAnswer(
            f"{asked}, nothing came within {self.timeout_s:g} s: check that the supply is on, "
            f"its cable and its baud rate{late}"
        )

    def _not_understood(self, question: TextQuestion, text: str, why: NotUnderstood) -> NoReturn:
        error: SupplyError | None = read_supply_error(text)
        if error is not None:
            raise SupplyRefused(
                f"{self.who}: asked {question.text}, the supply reports error {error.code}, "
                f"{inert(error.text)!r}: does its description fit this supply?"
            ) from why
        self.tally.garbled += 1
        raise GarbledAnswer(
            f"{self.who}: asked {question.text}, got {inert(text)!r}: {why}; does its "
            "description fit this supply, and the baud rate?"
        ) from why
