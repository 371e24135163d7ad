"""The driver for supplies that answer plain lines of text."""

from dataclasses import replace

from drivers.base.clock import Clock
from drivers.base.inert import inert
from drivers.driver import Driver, DriverSetUp
from drivers.errors import (
    AskAgain,
    BadDescription,
    GarbledAnswer,
    NotUnderstood,
)
from drivers.lines.answer_form import LineValues, is_cut_unseen
from drivers.lines.lines_description import LineAsked, LinesDescription, load_lines_description
from drivers.lines.talker import Talker
from drivers.link.asking_link import AskingLink
from drivers.link.serial_link import SerialLink
from drivers.link_driver import START_S, LinkDriver, another_supply
from drivers.number import Number
from drivers.options import description_name, read_options
from drivers.reading import Identity, Reading
from drivers.reply_times import ReplyTimes
from drivers.text.conversation import Conversation
from drivers.text.exchanges import Exchanges
from drivers.text.lost_digit import LostDigit
from drivers.text.text_question import wires

DEFAULT_DESCRIPTION = "lines-dc-supply"
OPEN_TIMEOUTS = 14
READ_TIMEOUTS = 8


class LinesDriver(LinkDriver[Conversation]):
    """One supply that is asked in plain lines; a `Driver`.

    Parameters
    ----------
    conversation
        On a closed link that lets the questions of the description pass.
    description
        What to ask, and what the answers mean.
    """

    def __init__(
        self, conversation: Conversation, description: LinesDescription, start_s: float = 0.0
    ) -> None:
        super().__init__(conversation, description.style.starts_in_s, start_s)
        self.description = description
        self.times = ReplyTimes()
        self._exchanges = Exchanges(conversation)
        self._lost_digit = LostDigit()
        self._known: tuple[str, str] | None = None

    @property
    def open_timeouts(self) -> int:
        return OPEN_TIMEOUTS

    @property
    def read_timeouts(self) -> int:
        return READ_TIMEOUTS

    @property
    def notices(self) -> tuple[str, ...]:
        """What people should know about this supply, each sentence once."""
        checked = dict.fromkeys(
            question.text for question in self.description.questions if question.i_have_checked
        )
        return tuple(
            f"{self.conversation.who}: {text!r} is asked since its description says "
            "i_have_checked: that the manual says it changes nothing"
            for text in checked
        )

    def read(self) -> Reading:
        self._begin_reading()
        clock = self.conversation.clock
        began_ns = clock.monotonic_ns()
        self._exchanges.begin()
        numbers: dict[str, Number] = {}
        answered_ns: dict[str, int] = {}
        status = None
        for asked in self.description.asked:
            values = self._ask(asked)
            if values is None:
                continue
            numbers |= values.numbers
            answered_ns |= dict.fromkeys(values.numbers, clock.monotonic_ns())
            status = values.status or status
            if values.numbers and {"volts", "amps"} <= numbers.keys():
                # A state that is not answered takes nothing away from good volts and amps.
                self._exchanges.prove()
        self.times.add((clock.monotonic_ns() - began_ns) / 1e9)
        apart_s = abs(answered_ns["amps"] - answered_ns["volts"]) / 1e9
        reading = self.description.reading(numbers, status, apart_s)
        reading = self._lost_digit.doubted(reading, self.conversation.tally)
        return replace(reading, span_ns=(self._exchanges.began_ns, self._exchanges.ended_ns))

    def _ask(self, asked: LineAsked) -> LineValues | None:
        """What one answer says; None where it has neither volts nor amps, and cannot be had."""
        if asked.question is None:
            return None
        try:
            values, text = self._exchanges.ask(asked.question, asked.form.understand)
        except AskAgain:
            if asked.form.groups & {"volts", "amps"}:
                raise
            return None
        if self.description.idle_s is not None and is_cut_unseen(asked.form, text):
            raise BadDescription(
                f"{self.conversation.who}: asked {asked.question.text}, got {inert(text)!r}: cut "
                "short it would match its pattern, too, and answers here have no end: say in the "
                "pattern how many digits there are, or what stands behind them"
            )
        return values

    def _learn(self) -> Identity:
        description = self.description
        self.conversation.start_over()
        words = self._learn_who()
        for asked in description.asked:
            self._ask(asked)
        return Identity(inert(words or description.heading.title), inert(words) or None)

    def _learn_who(self) -> str:
        """Its identity in its own words; "" where it is not asked for any."""
        conversation, description = self.conversation, self.description
        sentinel = description.sentinel
        if sentinel is None:
            return ""
        words = conversation.ask_unproven(sentinel)
        if conversation.ask_unproven(sentinel) != words:
            conversation.distrust()
            raise GarbledAnswer(
                f"{conversation.who}: asked {sentinel.text} twice, got two answers, one of them "
                f"{inert(words)!r}: check baud rate and wiring, or name another [sentinel]"
            )
        self._refuse_like_a_value(words)
        conversation.set_sentinel(sentinel, words)
        identity = words
        if description.identity is not None and description.identity != sentinel:
            identity = conversation.ask(description.identity, str)
        if self._known is not None and self._known[0] != words and self._known[0].startswith(words):
            raise GarbledAnswer(
                f"{conversation.who}: asked {sentinel.text}, got {inert(words)!r}, a part of what "
                f"came before, {inert(self._known[0])!r}: check the cable"
            )
        if self._known is not None and self._known != (words, identity):
            raise another_supply(conversation.who, self._known[1], identity)
        self._known = (words, identity)
        return identity if description.identity is not None else ""

    def _refuse_like_a_value(self, words: str) -> None:
        for asked in self.description.asked:
            try:
                asked.form.understand(words)
            except NotUnderstood:
                continue
            raise BadDescription(
                f"{self.conversation.who}: the sentinel is answered by {inert(words)!r}, which "
                "could be taken for a measured value: name another question as [sentinel]"
            )


def open_lines(set_up: DriverSetUp, /) -> Driver:
    """The entry point `lines` of group `bathvigil.drivers`: a closed driver.

    Options of the address: those of a serial port, `timeout` (s), `quiet_ms`, `description`
    (name or path).

    Raises
    ------
    BadAddress, BadDescription
    """
    description = load_lines_description(description_name(set_up, DEFAULT_DESCRIPTION))
    options = read_options(set_up, description.heading.serial)
    timeout_s = options.timeout_s or max(
        set_up.timeout_s,
        description.answer_within_s or 0.0,
        2 * description.style.rest_s,
        3 * (description.idle_s or 0.0),
    )
    link = AskingLink(options.link, wires(description.questions))
    clock: Clock = set_up.clock
    if description.every_s is not None:
        return Talker(link, clock, description, description.every_s, set_up.address.text)
    quiet_s = options.quiet_s or description.quiet_s
    return LinesDriver(
        Conversation(
            link,
            clock,
            timeout_s,
            max(quiet_s, description.idle_s or 0.0),
            set_up.address.text,
            idle_s=description.idle_s,
            has_sentinel=description.sentinel is not None,
            style=description.style,
            probe=description.asked[0].question,
        ),
        description,
        START_S if isinstance(options.link, SerialLink) else 0.0,
    )
