"""The driver for supplies and shunt meters that speak Modbus.

RTU on a serial line with one unit or several, or TCP; what to read stands in the description.
"""

from collections.abc import Sequence
from dataclasses import replace

from drivers.base.inert import inert
from drivers.driver import Driver, DriverSetUp
from drivers.errors import (
    AskAgain,
    SupplyRefused,
)
from drivers.link.link import after
from drivers.link.serial_link import SerialLink
from drivers.link.shared_link import SharedLink, frame_gap_s
from drivers.link_driver import LinkDriver, another_supply
from drivers.modbus.modbus_description import (
    Block,
    ModbusDescription,
    Place,
    load_modbus_description,
)
from drivers.modbus.modbus_rtu import RtuConversation
from drivers.modbus.modbus_tcp import TcpConversation
from drivers.modbus.register_conversation import RegisterConversation
from drivers.modbus.register_question import UNITS, RegisterQuestion
from drivers.mode_bits import is_dead
from drivers.number import reading_of
from drivers.options import LinkOptions, choice, description_name, read_options, whole
from drivers.reading import Identity, Mode, Reading
from drivers.reply_times import ReplyTimes

DEFAULT_DESCRIPTION = "modbus-dc-supply"
OPEN_TIMEOUTS = 10
READ_TIMEOUTS = 6
OWN_OPTIONS = ("unit", "framing")
_TO_ALL = "0 would address all units at once"
UNIT_SERIAL = whole(f"a number from 1 to 247; {_TO_ALL}", lambda unit: 1 <= unit <= 247)
UNIT_TCP = whole(f"a number from 1 to 247, or 255 on TCP; {_TO_ALL}", lambda unit: unit in UNITS)
FRAMING = choice("tcp or rtu", {"tcp": "tcp", "rtu": "rtu"})


class ModbusDriver(LinkDriver[RegisterConversation]):
    """One supply, or one meter on a shunt, that speaks Modbus; a `Driver`.

    Parameters
    ----------
    conversation
        On a closed link.
    description
        Which registers to read, and what they mean.
    unit
        The number under which it answers.
    """

    def __init__(
        self, conversation: RegisterConversation, description: ModbusDescription, unit: int
    ) -> None:
        super().__init__(conversation)
        self.description = description
        self.unit = unit
        self._questions = {
            place: _question(unit, place) for place in (description.sentinel, *description.places)
        }
        self._blocks: tuple[Block, ...] | None = None
        self._identity: tuple[int, ...] | None = None

    @property
    def open_timeouts(self) -> int:
        return OPEN_TIMEOUTS

    @property
    def read_timeouts(self) -> int:
        return READ_TIMEOUTS

    @property
    def deadline_s(self) -> float:
        return super().deadline_s + self.conversation.line.gap_s

    @property
    def times(self) -> ReplyTimes:
        """How long its replies take."""
        return self.conversation.times

    @property
    def notices(self) -> tuple[str, ...]:
        """What people should know about this link, each sentence once."""
        return tuple(self.conversation.notices)

    @property
    def blocks(self) -> tuple[Block, ...]:
        """What is read at each poll."""
        return self._blocks or self.description.blocks

    def read(self) -> Reading:
        self._begin_reading()
        conversation, clock = self.conversation, self.conversation.clock
        bits: dict[str, Sequence[int]] = {}
        answered_ns: dict[str, int] = {}
        span_ns: tuple[int, int] | None = None
        with conversation.line.turn(after(clock, conversation.timeout_s)):
            for block in self.blocks:
                values = self._ask(block)
                if values is None:
                    continue
                if block.is_needed:
                    began_ns = conversation.sent_ns if span_ns is None else span_ns[0]
                    span_ns = began_ns, clock.monotonic_ns()
                for quantity in block.quantities:
                    bits[quantity.name] = block.registers_of(quantity, values)
                    answered_ns[quantity.name] = clock.monotonic_ns() if len(self.blocks) > 1 else 0
        reading = self._reading(bits, abs(answered_ns["amps"] - answered_ns["volts"]) / 1e9)
        return replace(reading, span_ns=span_ns)

    def _ask(self, block: Block) -> tuple[int, ...] | None:
        """The block's registers; None where it holds neither volts nor amps, and is not to be had.

        A status or a probe that fails takes nothing away from good volts and amps.
        """
        try:
            return self.conversation.ask(self._questions[block.place])
        except AskAgain:
            if block.is_needed:
                raise
            return None

    def _learn(self) -> Identity:
        conversation = self.conversation
        turn_s = READ_TIMEOUTS * conversation.timeout_s
        with conversation.line.turn(after(conversation.clock, turn_s)):
            conversation.start_over()
            registers = conversation.learn()
            if self.description.identity is not None:
                self._refuse_another(registers)
                conversation.must_hold(registers)
            if self._blocks is None:
                self._blocks = self._answered_blocks()
        return self._named(registers)

    def _refuse_another(self, registers: tuple[int, ...]) -> None:
        if self._identity is not None and registers != self._identity:
            before, now = self._named(self._identity), self._named(registers)
            raise another_supply(self.conversation.who, before.text, now.text)
        self._identity = registers

    def _named(self, registers: tuple[int, ...]) -> Identity:
        """Its identity registers in words; without any, the description and the unit."""
        if self.description.identity is None:
            return Identity(inert(f"{self.description.heading.title}, unit {self.unit}"))
        data = b"".join(register.to_bytes(2, "big") for register in registers)
        if not self.description.identity_is_text:
            return Identity(f"registers {data.hex(' ', 2)}", data.hex())
        text = inert(data.rstrip(b"\0 ").decode("latin-1").strip())
        return Identity(text or "no name", text or None)

    def _answered_blocks(self) -> tuple[Block, ...]:
        """The blocks that the device gives; where it has holes, each quantity by itself."""
        apart = self.description.apart
        try:
            return self._tried(self.description.blocks)
        except SupplyRefused as failure:
            if apart in ((), self.description.blocks):
                raise
            try:
                return self._tried(apart)
            except SupplyRefused:
                raise failure from None

    def _tried(self, blocks: Sequence[Block]) -> tuple[Block, ...]:
        given = []
        for block in blocks:
            try:
                self.conversation.ask(self._questions[block.place])
            except SupplyRefused as refusal:
                if block.is_needed:
                    raise
                names = " and ".join(quantity.name for quantity in block.quantities)
                self.conversation.notices.append(f"{names} left out: {refusal}")
            else:
                given.append(block)
        return tuple(given)

    def _reading(self, registers: dict[str, Sequence[int]], apart_s: float) -> Reading:
        description, heading = self.description, self.description.heading
        numbers = {
            quantity.name: quantity.form.read(registers[quantity.name])
            for quantity in (description.volts, description.amps, description.celsius)
            if quantity is not None and quantity.name in registers
        }
        dead = is_dead(numbers["volts"].value, numbers["amps"].value, heading.rated_amps)
        mode = self._mode(registers, dead)
        return reading_of(numbers, heading.rated_volts, heading.rated_amps, mode, apart_s)

    def _mode(self, registers: dict[str, Sequence[int]], dead: bool) -> Mode:
        status, word = self.description.status, self.description.status_word
        if status is None or word is None or status.name not in registers:
            return Mode.UNKNOWN
        form, own = status.form, registers[status.name]
        value = None if form.read(own).value is None else form.bits(own)
        return word.mode(value, dead)


def open_modbus(set_up: DriverSetUp, /) -> Driver:
    """The entry point `modbus` of group `bathvigil.drivers`: a closed `ModbusDriver`.

    Options of the address: those of a serial port, `timeout` (s), `quiet_ms`, `description`
    (name or path), `unit` (1 to 247, default 1), `framing` (`rtu` on TCP for a plain serial
    server).

    Raises
    ------
    BadAddress, BadDescription
    """
    description = load_modbus_description(description_name(set_up, DEFAULT_DESCRIPTION))
    options = read_options(set_up, description.heading.serial, own=OWN_OPTIONS)
    is_serial = set_up.address.path is not None
    unit = options.value("unit", UNIT_SERIAL if is_serial else UNIT_TCP) or 1
    framing = options.value("framing", FRAMING) or "tcp"
    timeout_s = options.timeout_s or max(set_up.timeout_s, description.answer_within_s or 0.0)
    questions = [_question(unit, place) for place in (description.sentinel, *description.places)]
    line = _line(set_up, options, description, framing)
    sentinel = questions[0]
    who, clock = set_up.address.text, set_up.clock
    conversation: RegisterConversation
    if is_serial or framing == "rtu":
        quiet_s = options.quiet_s or description.quiet_s
        conversation = RtuConversation(
            line, questions, sentinel, clock, timeout_s, max(quiet_s, line.gap_s), who
        )
    else:
        conversation = TcpConversation(line, questions, sentinel, clock, timeout_s, who)
    return ModbusDriver(conversation, description, unit)


def _question(unit: int, place: Place) -> RegisterQuestion:
    return RegisterQuestion(unit, place.function, place.address, place.count)


def _line(
    set_up: DriverSetUp, options: LinkOptions, description: ModbusDescription, framing: str
) -> SharedLink:
    quiet_s = options.quiet_s if options.quiet_s is not None else description.quiet_s
    link = options.link
    if isinstance(link, SerialLink):
        settings = link.settings
        bits = 1 + settings.data_bits + (settings.parity != "none") + settings.stop_bits
        gap_s = max(frame_gap_s(settings.baud), quiet_s)
        return SharedLink(
            link, set_up.clock, gap_s, bits / settings.baud, settings.words, link.name
        )
    return SharedLink(link, set_up.clock, quiet_s, 0.0, framing)
