"""The driver for supplies and shunt meters that speak Modbus.

RTU on a serial line with one unit or several, or TCP; what to read stands in the description.
"""

from collections.abc import Sequence
from dataclasses import replace

from drivers.base.inert import inert
from drivers.driver import Driver, DriverSetUp
from drivers.errors import (
    AskAgain,
    NoAnswer,
    SupplyRefused,
    SupplySilent,
)
from drivers.link.link import after
from drivers.link.serial_link import SerialLink
from drivers.link.shared_link import SharedLink, frame_gap_s
from drivers.link_driver import LinkDriver, another_supply
from drivers.modbus.modbus_description import ModbusDescription, load_modbus_description
from drivers.modbus.modbus_rtu import RtuConversation
from drivers.modbus.modbus_tcp import TcpConversation
from drivers.modbus.register_blocks import Block, Place, RegisterQuantity, Way
from drivers.modbus.register_conversation import RegisterConversation
from drivers.modbus.register_question import RegisterQuestion
from drivers.modbus.scale_register import scale_of
from drivers.modbus.serial_framing import ASCII, RTU, UNNUMBERED_TCP, SerialFraming
from drivers.modbus.unit_options import framing_and_unit
from drivers.number import Number, reading_of
from drivers.options import LinkOptions, description_name, read_options
from drivers.output import is_dead
from drivers.reading import Identity, Mode, Reading
from drivers.reply_times import ReplyTimes

DEFAULT_DESCRIPTION = "modbus-dc-supply"
OPEN_TIMEOUTS = 10
READ_TIMEOUTS = 6
OWN_OPTIONS = ("unit", "framing")


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
        self._questions = {place: _question(unit, place) for place in description.places}
        self._ways = (
            description.numbered_ways if conversation.is_numbered else description.serial_ways
        )
        self._way: Way | None = None
        self._scales: dict[str, float | None] = {}
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
        return self.description.blocks if self._way is None else self._way.blocks

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
                began_ns, ended_ns = conversation.span_ns
                if block.is_needed:
                    span_ns = (began_ns if span_ns is None else span_ns[0], ended_ns)
                for quantity in block.quantities:
                    bits[quantity.name] = block.registers_of(quantity, values)
                    answered_ns[quantity.name] = ended_ns if len(self.blocks) > 1 else 0
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
            if self._way is not None:
                return self._begin(self._way)
            return self._find_way()

    def _find_way(self) -> Identity:
        """Go the first way on which the device gives everything, or else the first on which it
        gives volts and amps."""
        first: SupplyRefused | NoAnswer | SupplySilent | None = None
        lacking: tuple[Way, list[str]] | None = None
        for way in self._ways:
            try:
                identity = self._begin(way)
            except SupplyRefused as refusal:
                first = first or refusal
                continue
            except (NoAnswer, SupplySilent):
                # Some say nothing to what they would have to refuse.
                if way.may_refuse:
                    continue
                raise
            try:
                way, left_out = self._tried(way)
            except (SupplyRefused, NoAnswer, SupplySilent) as failure:
                first = first or failure
                continue
            if not left_out:
                self._way = way
                return identity
            lacking = lacking or (way, left_out)
        if lacking is None and isinstance(first, NoAnswer | SupplySilent):
            raise NoAnswer(
                f"{first}. Or it is silent where others refuse, and its replies are all equally "
                "long, so that a late one could be taken for another: name an [identity] of two "
                "registers or more in its description"
            )
        if lacking is None:
            raise first or NoAnswer(f"{self.conversation.who}: it gives none of its registers")
        self._way, left_out = lacking
        self.conversation.notices += left_out
        return self._begin(self._way)

    def _begin(self, way: Way) -> Identity:
        """Bring question and answer into step, and find out who answers."""
        conversation = self.conversation
        registers = conversation.learn(
            self._questions[way.sentinel], way.may_refuse, proves_each=way.has_twins
        )
        place = self.description.identity
        if place is not None:
            if place != way.sentinel:
                registers = conversation.ask(self._questions[place])
            self._refuse_another(registers)
            conversation.must_hold(registers if place == way.sentinel else None)
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

    def _tried(self, way: Way) -> tuple[Way, list[str]]:
        """The way with the blocks that the device gives, and what is left out."""
        given, left_out = [], []
        for block in way.blocks:
            try:
                values = self.conversation.ask(self._questions[block.place])
            except SupplyRefused as refusal:
                if block.is_needed:
                    raise
                names = " and ".join(quantity.name for quantity in block.quantities)
                left_out.append(f"{names} left out: {refusal}")
            else:
                given.append(block)
                self._keep_scales(block, values)
        return replace(way, blocks=tuple(given)), left_out

    def _keep_scales(self, block: Block, values: Sequence[int]) -> None:
        for quantity in (self.description.volts, self.description.amps):
            for scale in block.quantities:
                if quantity.scale_means is not None and scale.name == quantity.scale_name:
                    bits = block.registers_of(scale, values)[0]
                    self._scales[quantity.name] = scale_of(quantity.scale_means, bits)

    def _reading(self, registers: dict[str, Sequence[int]], apart_s: float) -> Reading:
        description, heading = self.description, self.description.heading
        numbers = {
            quantity.name: self._number(quantity, registers)
            for quantity in (description.volts, description.amps, description.celsius)
            if quantity is not None and quantity.name in registers
        }
        numbers |= dict.fromkeys(description.lacks, Number(0.0))
        dead = is_dead(numbers["volts"].value, numbers["amps"].value, heading.rated_amps)
        mode = self._mode(registers, dead and not description.lacks)
        reading = reading_of(numbers, heading.rated_volts, heading.rated_amps, mode, apart_s)
        if not description.lacks:
            return reading
        has_volts, has_amps = (name not in description.lacks for name in ("volts", "amps"))
        return replace(
            reading,
            volts=reading.volts if has_volts else None,
            amps=reading.amps if has_amps else None,
        )

    def _number(self, quantity: RegisterQuantity, registers: dict[str, Sequence[int]]) -> Number:
        """A value, by the scale of this moment where that stands in a register.

        The device may change its range between two requests: a value counts only where its scale
        is that of the reading before.
        """
        number = quantity.form.read(registers[quantity.name])
        if quantity.scale_means is None or number.value is None:
            return number
        bits = registers[quantity.scale_name][0]
        scale = scale_of(quantity.scale_means, bits)
        before = self._scales.get(quantity.name)
        self._scales[quantity.name] = scale
        if scale is None:
            return Number(None, f"the register of its scale holds {bits:04X}, which is none")
        if scale != before:
            return Number(None, "its scale has just changed")
        return Number(float(f"{number.value * scale:.12g}"))

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
    (name or path), `unit` (1 to 247, on TCP 0 to 255, default 1), `framing` (`ascii`; on TCP also
    `rtu`, for a plain serial server).

    Raises
    ------
    BadAddress, BadDescription
    """
    description = load_modbus_description(description_name(set_up, DEFAULT_DESCRIPTION))
    options = read_options(set_up, description.heading.serial, own=OWN_OPTIONS)
    framing, unit = framing_and_unit(set_up.address, options)
    timeout_s = options.timeout_s or max(set_up.timeout_s, description.answer_within_s or 0.0)
    questions = [_question(unit, place) for place in description.places]
    line = _line(set_up, options, description, framing)
    sentinel = _question(unit, description.sentinel)
    who, clock = set_up.address.text, set_up.clock
    conversation: RegisterConversation
    if framing == "tcp" and description.is_numbered:
        conversation = TcpConversation(line, questions, sentinel, clock, timeout_s, who)
    else:
        quiet_s = max(options.quiet_s or description.quiet_s, line.gap_s)
        conversation = RtuConversation(
            line, questions, sentinel, clock, timeout_s, quiet_s, who, _FRAMINGS[framing]
        )
    return ModbusDriver(conversation, description, unit)


_FRAMINGS: dict[str, SerialFraming] = {"rtu": RTU, "ascii": ASCII, "tcp": UNNUMBERED_TCP}


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
