"""The driver for supplies that speak SCPI.

Over a serial port or TCP; what to ask stands in the supply's description.
"""

from dataclasses import replace

from drivers.driver import Driver, DriverSetUp
from drivers.errors import (
    AskAgain,
)
from drivers.link.asking_link import AskingLink
from drivers.link.serial_link import SerialLink
from drivers.link_driver import START_S, LinkDriver
from drivers.mode_bits import read_mode
from drivers.number import Number, reading_of
from drivers.options import choice, description_name, read_options
from drivers.output import believed, is_dead
from drivers.reading import Identity, Mode, Reading
from drivers.reply_times import ReplyTimes
from drivers.scpi.scpi_description import ScpiDescription, load_scpi_description
from drivers.scpi.scpi_ends import all_questions, find_ends
from drivers.scpi.scpi_opening import (
    Known,
    Manner,
    ask_on_open,
    learn_manner,
    learn_who,
    read_identity,
)
from drivers.text.answer import SupplyError
from drivers.text.conversation import Conversation
from drivers.text.exchanges import Exchanges
from drivers.text.lost_digit import LostDigit
from drivers.text.text_question import wires

DEFAULT_DESCRIPTION = "scpi-dc-supply"
OPEN_TIMEOUTS = 12  # who it is, and each trial question with the way back into step after it
FIND_TIMEOUTS = 10  # each end of a question, twice
LONGEST_STATUS_WAIT_S = 60.0
STATUS_REST = 4.0
"""The status takes at most a fifth of a slow supply's time: the readings go before it."""


class ScpiDriver(LinkDriver[Conversation]):
    """One supply that speaks SCPI; a `Driver`.

    Parameters
    ----------
    conversation
        On a closed link that lets the questions of the description pass.
    description
        What to ask, and what the answers mean.
    serial
        The serial number that the supply must have; None where any will do.
    """

    def __init__(
        self,
        conversation: Conversation,
        description: ScpiDescription,
        serial: str | None = None,
        start_s: float = 0.0,
    ) -> None:
        super().__init__(conversation, description.style.starts_in_s, start_s)
        self.description = description
        self.serial = serial
        self.times = ReplyTimes()
        self._exchanges = Exchanges(conversation)
        self._lost_digit = LostDigit()
        self.contradicted: dict[str, Mode] = {}
        """Questions for the state whose answer volts and amps contradicted, and that state."""
        self._known: Known | None = None
        self._manner: Manner | None = None
        self._opening_errors: tuple[SupplyError, ...] = ()
        self._mode = Mode.UNKNOWN
        self._was_dead = False
        self._status_wait_s = description.status_every_s
        self._status_due_ns = 0

    @property
    def open_timeouts(self) -> int:
        return OPEN_TIMEOUTS + (FIND_TIMEOUTS if self.description.finds_ends else 0)

    @property
    def read_timeouts(self) -> int:
        return 2 + len(self.description.quantities) + len(self.description.registers)

    @property
    def manner(self) -> Manner | None:
        """Which questions the supply answers; None until it was opened once."""
        return self._manner

    @property
    def opening_errors(self) -> tuple[SupplyError, ...]:
        """What stood in the supply's error queue at the last opening."""
        return self._opening_errors

    def read(self) -> Reading:
        self._begin_reading()
        manner = self._manner
        assert manner is not None, "learned at the opening"
        began_ns = self.conversation.clock.monotonic_ns()
        numbers: list[Number] = []
        answered_ns: list[int] = []
        self._exchanges.begin()
        for message in manner.values:
            numbers += self._exchanges.ask(message.question, message.understand)[0]
            answered_ns.append(self.conversation.clock.monotonic_ns())
        self.times.add((answered_ns[-1] - began_ns) / 1e9)
        self._exchanges.prove()
        span_ns = (self._exchanges.began_ns, self._exchanges.ended_ns)
        # What proves that an answer without an end is whole is a part of it, but no value.
        values = {
            quantity.name: number
            for quantity, number in zip(self.description.quantities, numbers, strict=False)
        }
        heading = self.description.heading
        reading = reading_of(
            values,
            heading.rated_volts,
            heading.rated_amps,
            self._current_mode(manner, values["volts"].value, values["amps"].value),
            apart_s=(answered_ns[1] - answered_ns[0]) / 1e9 if len(answered_ns) > 1 else 0.0,
        )
        reading = self._lost_digit.doubted(reading, self.conversation.tally)
        return replace(reading, span_ns=span_ns)

    def _learn(self) -> Identity:
        conversation, description = self.conversation, self.description
        conversation.start_over()
        if self._known is None and description.finds_ends:
            description = self.description = find_ends(conversation, description)
        known = learn_who(conversation, description, self._known)
        identity = read_identity(known, description, self.serial)
        if conversation.idle_s is None:
            self._known = known
        manner = self._manner = self._manner or learn_manner(conversation, description, known)
        self._known = known
        on_open, self._opening_errors = ask_on_open(conversation, manner.on_open)
        self._manner = replace(manner, on_open=on_open)
        self._mode, self._was_dead, self._status_due_ns = Mode.UNKNOWN, False, 0
        return identity

    def _current_mode(self, manner: Manner, volts: float | None, amps: float | None) -> Mode:
        """The mode, asked for when it is due, and at once when the output dies or comes back."""
        rated_amps = self.description.heading.rated_amps
        dead = is_dead(volts, amps, rated_amps)
        now_ns = self.conversation.clock.monotonic_ns()
        is_due = dead != self._was_dead or now_ns >= self._status_due_ns
        if not manner.status or not is_due:
            return self._mode
        values: list[int] = []
        try:
            for message in manner.status:
                values += self.conversation.ask(message.question, message.understand)
        except AskAgain:
            # The volts and amps are good: they are kept, and the status is asked less often.
            self._mode = Mode.UNKNOWN
            self._status_wait_s = min(max(2 * self._status_wait_s, 1.0), LONGEST_STATUS_WAIT_S)
        else:
            words = [register.word for register in manner.registers]
            self._mode = read_mode(words, values[: len(words)], dead)
            for register, value in zip(manner.registers, values, strict=False):
                own = register.word.mode(value, dead)
                if believed(own, volts, amps, rated_amps) is not own:
                    self.contradicted[register.question.text] = own
            self._status_wait_s = self.description.status_every_s
        self._was_dead = dead
        took_ns = self.conversation.clock.monotonic_ns() - now_ns
        rest_ns = max(int(self._status_wait_s * 1e9), int(STATUS_REST * took_ns))
        self._status_due_ns = now_ns + took_ns + rest_ns
        return self._mode


def open_scpi(set_up: DriverSetUp, /) -> Driver:
    """The entry point `scpi` of group `bathvigil.drivers`: a closed `ScpiDriver`.

    Options of the address: those of a serial port, `timeout` (s), `quiet_ms`, `description`
    (name or path), `serial` (the serial number that the supply must have), `probe` (yes where a
    probe in the bath is wired to the supply).

    Raises
    ------
    BadAddress, BadDescription
    """
    name = description_name(set_up, DEFAULT_DESCRIPTION)
    description = load_scpi_description(name)
    options = read_options(set_up, description.heading.serial, own=("serial", "probe"))
    if options.value("probe", choice("yes or no", {"yes": True, "no": False})):
        description = load_scpi_description(name, has_probe=True)
    timeout_s = options.timeout_s or max(
        set_up.timeout_s, description.answer_within_s or 0.0, 2 * description.style.rest_s
    )
    conversation = Conversation(
        AskingLink(options.link, wires(all_questions(description))),
        set_up.clock,
        timeout_s,
        options.quiet_s or description.quiet_s,
        set_up.address.text,
        style=description.style,
    )
    start_s = START_S if isinstance(options.link, SerialLink) else 0.0
    return ScpiDriver(conversation, description, options.given.get("serial"), start_s)
