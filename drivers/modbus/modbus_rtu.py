"""The conversation with a Modbus unit on a serial line: every reply is proven to fit its question.

A frame on a serial line carries no number: a late reply looks just like the next answer. The
rules, each with its test:

1. Before a question the line must be empty; what waits there means "out of step".
2. A question counts as answered when exactly one frame comes before the deadline, with its unit,
   function, byte count and a right check sum, and nothing behind it.
3. Out of step, nothing is taken for an answer: the line is drained until it has been quiet for at
   least the longest reply time seen; then the sentinel is asked, a known register or the identity,
   whose reply is as long as no other. Only when exactly that comes is it in step again.
4. Only one sentinel is ever under way, over a reopening, too; it counts as lost once nothing has
   come for `SETTLE_TIMEOUTS` time-outs; on a line on which others talk, `LOST_TIMEOUTS` after it
   was sent.
5. An exception is an answer, but proves no step: all exceptions are equally long.
6. Our own question coming back, whole or in part, is dropped and told of once.
7. Whole frames of other units are dropped, and the few bytes that a line driver adds when it is
   switched on or off.
8. Where a device gives no reply of a length of its own, the sentinel is a question that it refuses
   or one by the other function: its reply is known by that. Where two questions have replies of one
   form, the sentinel is asked before each of them.
9. Three questions in a row without an answer: the link is to be opened anew.
10. Once a reply has come twice, the sentinel is asked behind each question, for `PROOFS` of them: a
   frame that comes between is the true reply, and the one before it was the copy of an older one.
   Neither is taken. The very first copy cannot be told where it comes just after a question.
"""

from collections.abc import Sequence
from typing import NoReturn

from drivers.base.clock import Clock
from drivers.errors import GarbledAnswer, NotUnderstood, Reopen
from drivers.link.dialogue import SETTLE_TIMEOUTS
from drivers.link.link import LAST_BYTES, after
from drivers.link.shared_link import SharedLink
from drivers.modbus.modbus_codec import Refusal, Registers
from drivers.modbus.modbus_refusals import REFUSALS_OF_KIND
from drivers.modbus.register_conversation import RegisterConversation
from drivers.modbus.register_question import RegisterQuestion
from drivers.modbus.serial_framing import MOST_NOISE, RTU, SerialFrame, SerialFraming

_PAST = 0
LOST_TIMEOUTS = 2 * SETTLE_TIMEOUTS
PROOFS = 200
REST_S = 0.01
LONGEST_FRAME = 256


class RtuConversation(RegisterConversation):
    """One unit on a serial line, asked one question at a time.

    Parameters
    ----------
    line
        Opened and closed by the caller.
    questions
        All that may ever be sent.
    sentinel
        The question whose reply is as long as no other's.
    clock
        For the deadlines.
    timeout_s
        The longest wait for one reply.
    quiet_s
        For how long nothing must come at least until the line counts as quiet.
    who
        The supply's address, for messages.
    framing
        How frames lie in the bytes.
    """

    def __init__(
        self,
        line: SharedLink,
        questions: Sequence[RegisterQuestion],
        sentinel: RegisterQuestion,
        clock: Clock,
        timeout_s: float,
        quiet_s: float,
        who: str,
        framing: SerialFraming = RTU,
    ) -> None:
        self.framing = framing
        self._frames = {question: framing.frame(question) for question in questions}
        allowed = frozenset(self._frames.values())
        super().__init__(line, allowed, 0, sentinel, clock, timeout_s, who)
        self.quiet_s = quiet_s
        self._bytes = bytearray()
        self._known: tuple[int, ...] | None = None
        self._is_in_step = False
        self._is_sentinel_under_way = False
        self._may_refuse = False
        self._refusal: int | None = None
        self._proves_each = False
        self._proofs_left = 0
        self._sent_ns = 0
        self._sentinel_ns = 0
        self._slowest_s = 0.0
        self._unreadable_in_a_row = 0
        self._last_unreadable = b""
        self._noise_left = MOST_NOISE

    @property
    def is_in_step(self) -> bool:
        """True while the next frame that comes can only be the answer to the next question."""
        return self._is_in_step

    def start_over(self) -> None:
        """Start on a link that was opened again."""
        self._bytes.clear()
        self._is_in_step = False

    @property
    def is_numbered(self) -> bool:
        return False

    def learn(
        self, sentinel: RegisterQuestion, may_refuse: bool = False, proves_each: bool = False
    ) -> tuple[int, ...]:
        if sentinel != self.sentinel:
            # One that is under way must not be taken for the answer to another.
            self._is_sentinel_under_way = False
        self.sentinel = sentinel
        self._known = None
        self._may_refuse, self._refusal, self._proves_each = may_refuse, None, proves_each
        self._is_in_step = False
        return self._fall_into_step()

    def must_hold(self, registers: tuple[int, ...] | None) -> None:
        """What the sentinel must hold each time; None where it may change."""
        self._known = registers

    def ask(self, question: RegisterQuestion) -> tuple[int, ...]:
        self._peace.refuse_while_resting()
        # What comes within the gap between two frames is no answer to the second one.
        self.line.wait_for_the_gap()
        is_in_step = self._is_in_step and not self._anything_waits()
        if not is_in_step or self._proves_each:
            self._fall_into_step(is_quiet=is_in_step)
            self.line.wait_for_the_gap()
            if self._anything_waits():
                raise GarbledAnswer(f"{self.who}: more comes than was asked for: asked again")
        self._is_in_step = False
        self._put(question)
        registers = self._take(question, self._await_reply(question))
        if self._proofs_left:
            self._prove_behind()
        return registers

    def _prove_behind(self) -> None:
        """Have the sentinel answered next after a reply: it was no copy of an older one."""
        self._proofs_left -= 1
        late, span_ns = self.tally.late, self.span_ns
        self.line.wait_for_the_gap()
        self._fall_into_step(is_quiet=True)
        self.span_ns = span_ns
        if self.tally.late > late:
            raise GarbledAnswer(
                f"{self.who}: a reply came twice, so that an old one may look like a new one: "
                "asked again"
            )

    def _note_copies(self) -> None:
        """Whether a whole reply of the unit waits though every question was answered."""
        frame = self.framing.any_reply_in(bytes(self._bytes))
        if frame is not None and frame.unit == self.sentinel.unit:
            self._proofs_left = PROOFS

    def _anything_waits(self) -> bool:
        self._hear(_PAST)
        while self._drop_other_units(self.sentinel.unit) or self._drop_noise(self.sentinel.unit):
            pass
        if not self._bytes:
            return False
        if self._is_in_step:
            self._note_copies()
        self.tally.late += 1
        self._is_in_step = False
        return True

    def _fall_into_step(self, is_quiet: bool = False) -> tuple[int, ...]:
        self._peace.refuse_while_resting()
        question = self.sentinel
        if self._is_sentinel_under_way and (self._settled_in_s() <= 0.0 or self._is_too_old()):
            self._is_sentinel_under_way = False
        if not self._is_sentinel_under_way:
            if not is_quiet:
                self._drain()
            self._put(question)
            self._is_sentinel_under_way = True
            self._sentinel_ns = self._sent_ns
        frame = self._await_reply(question, drops_late=True)
        self._is_sentinel_under_way = False
        registers = self._take(question, frame, self._may_refuse)
        if self._known is not None and registers != self._known:
            self._is_in_step = False
            raise Reopen(
                f"{self.who}: {question.words} hold something else than before: another supply, "
                "or a disturbed line; the link is opened again to find out"
            )
        self.tally.resyncs += not is_quiet
        return registers

    def _take(
        self, question: RegisterQuestion, frame: SerialFrame, may_refuse: bool = False
    ) -> tuple[int, ...]:
        self._noise_left = MOST_NOISE
        while self._drop_other_units(question.unit) or self._drop_noise(question.unit):
            pass
        if self._bytes:
            self._note_copies()
            self._unreadable(question, frame.pdu + bytes(self._bytes))
        try:
            reply = frame.content()
        except NotUnderstood:
            self._unreadable(question, frame.pdu)
        taken_s = (self.clock.monotonic_ns() - self._sent_ns) / 1e9
        self._slowest_s = max(self._slowest_s, taken_s)
        self._unreadable_in_a_row = 0
        if isinstance(reply, Refusal):
            if not may_refuse or not self._is_usual(reply):
                self._refused(question, reply.code, taken_s)
            reply = Registers(())
        self._is_in_step = True
        self._answered(taken_s)
        return reply.values

    def _is_usual(self, refusal: Refusal) -> bool:
        """Whether the sentinel is refused for what it asks for, as it was before."""
        if refusal.code not in REFUSALS_OF_KIND or self._refusal not in (None, refusal.code):
            return False
        self._refusal = refusal.code
        return True

    def _put(self, question: RegisterQuestion) -> None:
        self._send(self._frames[question], self.timeout_s)
        self._last_unreadable = b""
        self._noise_left = MOST_NOISE
        self._sent_ns = self._heard_ns

    def _await_reply(self, question: RegisterQuestion, drops_late: bool = False) -> SerialFrame:
        waited_s = self._peace.patience_s
        deadline_ns = self._deadline_ns(waited_s)
        is_due = False
        while True:
            # The sentinel's reply may have come before it is waited for.
            if self._bytes and (frame := self._find(question, drops_late)):
                return frame
            if is_due:
                self._unanswered(question, waited_s)
            is_due = not self._hear(deadline_ns) or self.clock.monotonic_ns() >= deadline_ns

    def _hear(self, deadline_ns: int) -> bool:
        data = self._read(deadline_ns)
        self._bytes += data
        return bool(data)

    def _find(self, question: RegisterQuestion, drops_late: bool) -> SerialFrame | None:
        """Take the reply out of what has come, and drop what stands before it and may."""
        if frame := self._cut_reply(question, 0):
            return frame
        own = self._frames[question]
        while True:
            if self._bytes.startswith(own):
                self._echo_came(len(own))
            elif not (
                self._drop_other_units(question.unit)
                or (drops_late and self._drop_whole_frame())
                or self._drop_noise(question.unit)
            ):
                break
            if frame := self._cut_reply(question, 0):
                return frame
        for part in range(len(own) - 1, 0, -1):
            if self._bytes.startswith(own[:part]) and (frame := self._cut_reply(question, part)):
                self._echo_came(0)
                return frame
        return None

    def _cut_reply(self, question: RegisterQuestion, start: int) -> SerialFrame | None:
        frame = self.framing.reply_in(bytes(self._bytes[start:]), question)
        if frame is not None:
            del self._bytes[: start + frame.length]
        return frame

    def _drop_other_units(self, unit: int) -> bool:
        frame = self.framing.any_reply_in(bytes(self._bytes))
        return frame is not None and frame.unit != unit and self._drop_whole_frame()

    def _drop_whole_frame(self) -> bool:
        """Drop the sound reply at the start, to whatever question; False where there is none."""
        frame = self.framing.any_reply_in(bytes(self._bytes))
        if frame is None:
            return False
        del self._bytes[: frame.length]
        self.tally.late += 1
        if frame.unit == self.sentinel.unit:
            self._note_late()
        return True

    def _drop_noise(self, unit: int) -> bool:
        count = min(self.framing.noise_in(bytes(self._bytes), unit), self._noise_left)
        self._noise_left -= count
        del self._bytes[:count]
        return count > 0

    def _echo_came(self, count: int) -> None:
        del self._bytes[:count]
        self.tally.echoes += 1
        if self.tally.echoes == 1:
            self.notices.append(
                f"{self.who}: our own questions come back (an echo); they are dropped. A switch "
                "on the RS-485 adapter usually turns that off"
            )

    def _note_late(self) -> None:
        late_s = (self.clock.monotonic_ns() - self._sent_ns) / 1e9
        if self._sent_ns and late_s < SETTLE_TIMEOUTS * self.timeout_s:
            self._slowest_s = max(self._slowest_s, late_s)

    def _is_too_old(self) -> bool:
        """Whether the sentinel was sent so long ago that its reply cannot come any more."""
        sent_s = (self.clock.monotonic_ns() - self._sentinel_ns) / 1e9
        return sent_s > LOST_TIMEOUTS * self.timeout_s

    def _hears_only_others(self) -> bool:
        """Wait for as long as a late reply may take; False where a byte is not another unit's."""
        quiet_s = min(max(self.quiet_s, self._slowest_s), 2 * self.timeout_s)
        until_ns = self._heard_ns + int(quiet_s * 1e9)
        unit = self.sentinel.unit
        self._hear(_PAST)
        while True:
            while self._bytes:
                if not (self._drop_other_units(unit) or self._drop_noise(unit)):
                    # Half a frame: its rest comes before the line rests for long.
                    rest_s = max(self.line.gap_s, REST_S)
                    is_long = len(self._bytes) > LONGEST_FRAME
                    if is_long or not self._hear(min(after(self.clock, rest_s), self._limit_ns)):
                        self._note_late()
                        return False
            if self.clock.monotonic_ns() >= min(until_ns, self._limit_ns):
                return True
            self._hear(min(until_ns, self._limit_ns))

    def _drain(self) -> None:
        if self._hears_only_others():
            return
        count = len(self._bytes)
        self._bytes.clear()
        # Silence that was kept already since the last byte need not be kept again.
        quiet_s = min(max(self.quiet_s, self._slowest_s), 2 * self.timeout_s)
        left_s = quiet_s if count else max(quiet_s - self._silent_s(), 0.0)
        if self._throw_away(left_s, self._deadline_ns(2 * self.timeout_s)):
            self._note_late()
            if left_s < quiet_s:
                self._throw_away(quiet_s, self._deadline_ns(2 * self.timeout_s))

    def _unanswered(self, question: RegisterQuestion, waited_s: float) -> NoReturn:
        if self._bytes:
            self._unreadable(question, bytes(self._bytes))
        if self._last_unreadable:
            # Not asked anew since the rubbish came: its reply may still be under way.
            raise self._rubbish(question)
        self._silent(question, waited_s)

    def _unreadable(self, question: RegisterQuestion, data: bytes) -> NoReturn:
        self._bytes.clear()
        self._is_in_step = False
        self.tally.garbled += 1
        self._unreadable_in_a_row += 1
        self._last_unreadable = data
        raise self._rubbish(question)

    def _rubbish(self, question: RegisterQuestion) -> GarbledAnswer:
        data, times = self._last_unreadable, self._unreadable_in_a_row
        cure = "it is asked again"
        if times > 1:
            cure = (
                f"{times} times now: bytes arrive, but no frames: check baud rate and parity, the "
                "wires A and B (swapped?), and that no other program talks on this line"
            )
        return GarbledAnswer(
            f"{self.who}: asked for {question.words}, got {len(data)} bytes that are no reply to "
            f"it (the last: {data[-LAST_BYTES:].hex(' ')}): {cure}"
        )
