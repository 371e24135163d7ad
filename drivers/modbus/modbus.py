"""A supply's address in, its `Reading`s out: the driver for Modbus supplies and shunt meters.

RTU on a serial line with one unit or several, or TCP; what to read stands in the description.
"""

from collections.abc import Sequence

from drivers.base.inert import inert
from drivers.driver import Driver, DriverSetUp, closed_on_failure
from drivers.errors import (
    AskAgain,
    BadAddress,
    Reopen,
    SupplyRefused,
    WrongSupply,
)
from drivers.link.dialogue import Tally
from drivers.link.link import SLICE_S, after
from drivers.link.serial_link import WRITE_WITHIN_S, SerialLink
from drivers.link.shared_link import SharedLink, frame_gap_s
from drivers.modbus.modbus_description import (
    Block,
    ModbusDescription,
    Place,
    RegisterQuantity,
    load_modbus_description,
)
from drivers.modbus.modbus_rtu import RtuConversation
from drivers.modbus.modbus_tcp import TcpConversation
from drivers.modbus.register_conversation import RegisterConversation
from drivers.modbus.register_question import UNITS, RegisterQuestion
from drivers.mode_bits import is_dead
from drivers.number import Number, doubt_of, sound_celsius
from drivers.options import LinkOptions, all_options, read_options
from drivers.reading import Identity, Mode, Reading
from drivers.reply_times import ReplyTimes

DEFAULT_DESCRIPTION = "modbus-dc-supply"
CONNECT_S = 2.0
OPEN_TIMEOUTS = 10
READ_TIMEOUTS = 6
SERIAL_UNITS = 247
OWN_OPTIONS = ("unit", "framing")


class ModbusDriver:
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
        self.conversation = conversation
        self.description = description
        self.unit = unit
        self._questions = {
            place: _question(unit, place) for place in (description.sentinel, *description.places)
        }
        self._blocks: tuple[Block, ...] | None = None
        self._identity: tuple[int, ...] | None = None
        self._is_open = False

    @property
    def deadline_s(self) -> float:
        longest_s = max(self._open_limit_s, self._read_limit_s)
        return longest_s + WRITE_WITHIN_S + self.conversation.line.gap_s + 2 * SLICE_S

    @property
    def tally(self) -> Tally:
        """What has happened on the link since the driver was made."""
        return self.conversation.tally

    @property
    def times(self) -> ReplyTimes:
        """How long its replies take."""
        return self.conversation.times

    @property
    def notices(self) -> tuple[str, ...]:
        """What somebody should know of this link, each told once."""
        return tuple(self.conversation.notices)

    @property
    def blocks(self) -> tuple[Block, ...]:
        """What is read at each poll."""
        return self._blocks or self.description.blocks

    def open(self) -> Identity:
        self.close()
        with closed_on_failure(self.close):
            return self._open()

    def read(self) -> Reading:
        if not self._is_open:
            raise Reopen(f"{self.conversation.who}: the supply is not open")
        conversation, clock = self.conversation, self.conversation.line.clock
        conversation.begin(self._read_limit_s)
        bits: dict[str, Sequence[int]] = {}
        answered_ns: dict[str, int] = {}
        with conversation.line.turn(after(clock, conversation.timeout_s)):
            for block in self.blocks:
                values = self._ask(block)
                if values is None:
                    continue
                for quantity in block.quantities:
                    bits[quantity.name] = block.registers_of(quantity, values)
                    answered_ns[quantity.name] = clock.monotonic_ns() if len(self.blocks) > 1 else 0
        return self._reading(bits, abs(answered_ns["amps"] - answered_ns["volts"]) / 1e9)

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

    def close(self) -> None:
        self._is_open = False
        self.conversation.line.close()

    @property
    def _open_limit_s(self) -> float:
        return CONNECT_S + OPEN_TIMEOUTS * self.conversation.timeout_s

    @property
    def _read_limit_s(self) -> float:
        return READ_TIMEOUTS * self.conversation.timeout_s

    def _open(self) -> Identity:
        conversation, clock = self.conversation, self.conversation.line.clock
        conversation.begin(self._open_limit_s)
        conversation.line.open(after(clock, CONNECT_S))
        with conversation.line.turn(after(clock, self._read_limit_s)):
            conversation.start_over()
            registers = conversation.learn()
            if self.description.identity is not None:
                self._refuse_another(registers)
                conversation.must_hold(registers)
            if self._blocks is None:
                self._blocks = self._answered_blocks()
        self._is_open = True
        return self._named(registers)

    def _refuse_another(self, registers: tuple[int, ...]) -> None:
        if self._identity is not None and registers != self._identity:
            raise WrongSupply(
                f"{self.conversation.who}: this run began with {self._named(self._identity).text},"
                f" now {self._named(registers).text} answers: connect the first one again, or "
                "begin a new run"
            )
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
        volts = _number(description.volts, registers)
        amps = _number(description.amps, registers)
        celsius = None
        if description.celsius is not None and description.celsius.name in registers:
            celsius = sound_celsius(_number(description.celsius, registers))
        doubts = (
            doubt_of("volts", volts, heading.rated_volts),
            doubt_of("amps", amps, heading.rated_amps),
        )
        return Reading(
            volts=volts.value,
            amps=amps.value,
            celsius=celsius,
            mode=self._mode(registers, is_dead(volts.value, amps.value, heading.rated_amps)),
            apart_s=apart_s,
            doubt="; ".join(doubt for doubt in doubts if doubt is not None) or None,
        )

    def _mode(self, registers: dict[str, Sequence[int]], dead: bool) -> Mode:
        status, word = self.description.status, self.description.status_word
        if status is None or word is None or status.name not in registers:
            return Mode.UNKNOWN
        form, own = status.form, registers[status.name]
        value = None if form.read(own).value is None else form.bits(own)
        return word.mode(value, dead)


def _number(quantity: RegisterQuantity, registers: dict[str, Sequence[int]]) -> Number:
    return quantity.form.read(registers[quantity.name])


def open_modbus(set_up: DriverSetUp, /) -> Driver:
    """The entry point `modbus` of group `bathvigil.drivers`: a closed `ModbusDriver`.

    Options of the address: those of a serial port, `timeout` (s), `quiet_ms`, `description`
    (name or path), `unit` (1 to 247, default 1), `framing` (`rtu` on TCP for a plain serial
    server).

    Raises
    ------
    BadAddress, BadDescription
    """
    name = set_up.description or all_options(set_up).get("description", DEFAULT_DESCRIPTION)
    description = load_modbus_description(name)
    options = read_options(set_up, description.heading.serial, own=OWN_OPTIONS)
    is_serial = set_up.address.path is not None
    unit = _unit(set_up, options, is_serial)
    timeout_s = options.timeout_s or max(set_up.timeout_s, description.answer_within_s or 0.0)
    questions = [_question(unit, place) for place in (description.sentinel, *description.places)]
    line = _line(set_up, options, description)
    sentinel = questions[0]
    who, clock = set_up.address.text, set_up.clock
    conversation: RegisterConversation
    if is_serial or _framing(set_up, options) == "rtu":
        quiet_s = options.quiet_s or description.quiet_s
        conversation = RtuConversation(
            line, questions, sentinel, clock, timeout_s, max(quiet_s, line.gap_s), who
        )
    else:
        conversation = TcpConversation(line, questions, sentinel, clock, timeout_s, who)
    return ModbusDriver(conversation, description, unit)


def _question(unit: int, place: Place) -> RegisterQuestion:
    return RegisterQuestion(unit, place.function, place.address, place.count)


def _line(set_up: DriverSetUp, options: LinkOptions, description: ModbusDescription) -> SharedLink:
    quiet_s = options.quiet_s if options.quiet_s is not None else description.quiet_s
    link = options.link
    if isinstance(link, SerialLink):
        settings = link.settings
        bits = 1 + settings.data_bits + (settings.parity != "none") + settings.stop_bits
        gap_s = max(frame_gap_s(settings.baud), quiet_s)
        return SharedLink(
            link, set_up.clock, gap_s, bits / settings.baud, settings.words, link.name
        )
    return SharedLink(link, set_up.clock, quiet_s, 0.0, _framing(set_up, options))


def _unit(set_up: DriverSetUp, options: LinkOptions, is_serial: bool) -> int:
    text = options.others.get("unit", "1")
    valid = text.isascii() and text.isdigit() and len(text) <= 3 and int(text) in UNITS
    if not valid or (is_serial and int(text) > SERIAL_UNITS):
        least = "a number from 1 to 247" + ("" if is_serial else ", or 255 on TCP")
        raise BadAddress(
            f"{set_up.address.text}: unit={text!r} must be {least}; 0 would speak to all at once"
        )
    return int(text)


def _framing(set_up: DriverSetUp, options: LinkOptions) -> str:
    framing = options.others.get("framing", "tcp")
    if framing not in ("tcp", "rtu"):
        raise BadAddress(f"{set_up.address.text}: framing={framing!r} must be tcp or rtu")
    return framing
