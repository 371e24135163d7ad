"""Every edge that takes bytes or text from a wire or a person, each as a property that must hold.

What comes in becomes an error of the edge's own kind or a value that was said; never another
exception, and never a value that nobody sent.
"""

import math
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass

from hypothesis import strategies as st

from benchmarks.fuzz_wire import MOVES, Answering, DrawnLink, Lines, Move, Rtu, Scpi, Tcp
from drivers.address import parse_address
from drivers.base.clock import SystemClock
from drivers.driver import Driver, DriverSetUp
from drivers.errors import DriverError, NotUnderstood
from drivers.lines.lines import LinesDriver
from drivers.lines.lines_description import load_lines_description
from drivers.link.asking_link import AskingLink
from drivers.link.line_buffer import LineBuffer
from drivers.link.shared_link import SharedLink
from drivers.modbus.modbus import ModbusDriver
from drivers.modbus.modbus_codec import Refusal, Registers, is_rtu_sound, read_rtu, tcp_reply
from drivers.modbus.modbus_description import load_modbus_description
from drivers.modbus.modbus_rtu import RtuConversation
from drivers.modbus.modbus_tcp import TcpConversation
from drivers.modbus.register_question import RegisterQuestion
from drivers.modbus.register_value import ORDERS, TYPES, RegisterForm
from drivers.registry import open_driver
from drivers.scpi.scpi import ScpiDriver
from drivers.scpi.scpi_description import load_scpi_description
from drivers.scpi.scpi_ends import all_questions
from drivers.text.answer import SupplyError, read_number, read_supply_error
from drivers.text.conversation import Conversation
from drivers.text.text_question import wires
from monitor.forward.reply import reply_of
from monitor.model.card_text import card_from_text
from tests.clock import HandClock

TIMEOUT_S = 0.1
POLLS = 6

WORDS = st.one_of(st.text(max_size=60), st.text('0123456789+-.eE ,;VA"\t', max_size=30))
"""Text of any kind, and text that is nearly a number."""
BYTES = st.binary(max_size=80)


@dataclass(frozen=True, slots=True)
class Edge:
    """One place where something comes in.

    Parameters
    ----------
    draws
        What may come.
    check
        Takes it; an exception is a finding.
    """

    name: str
    draws: st.SearchStrategy[object]
    check: Callable[[object], None]


def one_line(error: Exception) -> None:
    """What is told fits on a line and cannot move a terminal's cursor."""
    assert not any(unicodedata.category(character) == "Cc" for character in str(error)), repr(error)


def _number(text: object) -> None:
    assert isinstance(text, str)
    try:
        number = read_number(text, "V")
    except NotUnderstood:
        return
    if number.value is None:
        assert number.why
        return
    assert math.isfinite(number.value)
    digits = text.strip().rstrip("vV").rstrip()
    assert number.value == float(digits), (text, number)


def _supply_error(text: object) -> None:
    assert isinstance(text, str)
    entry = read_supply_error(text)
    assert entry is None or isinstance(entry, SupplyError)


def _lines_out_of_pieces(pieces: object) -> None:
    """However it comes, the same lines; and never more than the buffer may hold."""
    assert isinstance(pieces, list)
    whole, parts = LineBuffer(64), LineBuffer(64)
    lines_of: list[list[str]] = [[], []]
    for buffer, chunks, lines in (
        (whole, [b"".join(pieces)], lines_of[0]),
        (parts, pieces, lines_of[1]),
    ):
        for chunk in chunks:
            buffer.feed(chunk)
            while True:
                try:
                    line = buffer.take()
                except NotUnderstood:
                    break
                if line is None:
                    break
                lines.append(line)
            assert len(buffer.pending) <= 64 + 80
    if b"".join(pieces).count(b"\n") and all(
        len(line_bytes) < 60 for line_bytes in b"".join(pieces).split(b"\n")
    ):
        assert lines_of[0] == lines_of[1]


def _registers(drawn: object) -> None:
    assert isinstance(drawn, tuple)
    kind, order, registers, scale = drawn
    form = RegisterForm(kind, order, scale)
    number = form.read(registers[: form.width])
    if number.value is None:
        assert number.why
    else:
        assert math.isfinite(number.value)


def _rtu_frame(frame: object) -> None:
    assert isinstance(frame, bytes)
    if len(frame) >= 4 and is_rtu_sound(frame):
        try:
            read = read_rtu(frame)
        except NotUnderstood:
            return
        assert isinstance(read, Registers | Refusal)


def _tcp_frame(data: object) -> None:
    assert isinstance(data, bytes)
    try:
        frame = tcp_reply(data)
    except NotUnderstood:
        return
    if frame is not None:
        _, rest = frame
        assert len(rest) < len(data)
        assert data.endswith(rest)


def _address(text: object) -> None:
    assert isinstance(text, str)
    try:
        address = parse_address(text)
        driver = open_driver(DriverSetUp(address, SystemClock(), TIMEOUT_S))
    except DriverError:
        return
    assert driver.deadline_s > 0


def _reply(drawn: object) -> None:
    assert isinstance(drawn, tuple)
    status, after, body = drawn
    reply = reply_of(status, {"Retry-After": after, "Date": after}, body)
    assert "\n" not in reply.text
    assert reply.retry_after_s is None or 0 <= reply.retry_after_s <= 3600
    assert reply.dropped is None or reply.dropped >= 0


def _card(text: object) -> None:
    assert isinstance(text, str)
    card = card_from_text(text)
    if card is not None:
        assert card.area_dm2 is None or (math.isfinite(card.area_dm2) and card.area_dm2 > 0)
        assert isinstance(card.line, str)


def _talk(
    moves: object, answering: Answering, make: Callable[[DrawnLink, HandClock], Driver]
) -> None:
    """A driver at a supply that answers by the moves: its own errors, or values that were sent."""
    assert isinstance(moves, list)
    clock = HandClock()
    wire = DrawnLink([move for move in moves if isinstance(move, Move)], answering, clock)
    driver = make(wire, clock)
    for _ in range(POLLS):
        try:
            if not wire.is_open:
                driver.open()
            began_ns = clock.now_ns
            reading = driver.read()
        except DriverError as error:
            one_line(error)
            driver.close()
            continue
        assert (clock.now_ns - began_ns) / 1e9 <= driver.deadline_s + 1.0
        for value in (reading.volts, reading.amps, reading.celsius):
            assert value is None or math.isfinite(value)
            if value is not None and reading.doubt is None:
                assert answering.may_say(value, bytes(wire.sent)), (reading, bytes(wire.sent))
    driver.close()


def _scpi(wire: DrawnLink, clock: HandClock) -> Driver:
    description = load_scpi_description("scpi-dc-supply")
    link = AskingLink(wire, wires(all_questions(description)))
    return ScpiDriver(Conversation(link, clock, TIMEOUT_S, 0.02, "drawn"), description)


def _plain_lines(wire: DrawnLink, clock: HandClock) -> Driver:
    description = load_lines_description("lines-dc-supply")
    link = AskingLink(wire, wires(description.questions))
    return LinesDriver(Conversation(link, clock, TIMEOUT_S, 0.02, "drawn"), description)


def _modbus(wire: DrawnLink, clock: HandClock, is_tcp: bool) -> Driver:
    description = load_modbus_description("modbus-dc-supply")
    places = (description.sentinel, *description.places)
    asked = [RegisterQuestion(1, place.function, place.address, place.count) for place in places]
    line = SharedLink(wire, clock, 0.0 if is_tcp else 0.004, 0.0, "drawn")
    conversation = (
        TcpConversation(line, asked, asked[0], clock, TIMEOUT_S, "drawn")
        if is_tcp
        else RtuConversation(line, asked, asked[0], clock, TIMEOUT_S, 0.01, "drawn")
    )
    return ModbusDriver(conversation, description, 1)


REGISTERS = st.lists(st.integers(0, 0xFFFF), min_size=2, max_size=2)
ADDRESSES = st.one_of(
    st.text(max_size=60),
    st.builds(
        "{}:{}?{}={}".format,
        st.sampled_from(["scpi", "modbus", "lines", "mine", ""]),
        st.sampled_from(["/dev/ttyUSB0", "tcp://127.0.0.1:5025", "tcp://[::1]", "usb:1a86:7523"])
        | st.text(max_size=20),
        st.sampled_from(["baud", "parity", "unit", "timeout", "quiet_ms", "framing", "probe"])
        | st.text(max_size=8),
        st.text("0123456789.eE+-n²٣", max_size=8) | st.text(max_size=8),
    ),
)

WIRE_EDGES = (
    Edge("numbers in answers", WORDS, _number),
    Edge("a supply's own errors", WORDS, _supply_error),
    Edge("lines out of pieces", st.lists(BYTES, max_size=8), _lines_out_of_pieces),
    Edge(
        "register values",
        st.tuples(st.sampled_from(TYPES), st.sampled_from(ORDERS), REGISTERS, st.floats(1e-6, 1e6)),
        _registers,
    ),
    Edge("Modbus frames on a serial line", BYTES, _rtu_frame),
    Edge("Modbus frames over TCP", BYTES, _tcp_frame),
    Edge("a talk in SCPI", MOVES, lambda moves: _talk(moves, Scpi(), _scpi)),
    Edge("a talk in plain lines", MOVES, lambda moves: _talk(moves, Lines(), _plain_lines)),
    Edge(
        "a talk in Modbus on a serial line",
        MOVES,
        lambda moves: _talk(moves, Rtu(), lambda wire, clock: _modbus(wire, clock, False)),
    ),
    Edge(
        "a talk in Modbus over TCP",
        MOVES,
        lambda moves: _talk(moves, Tcp(), lambda wire, clock: _modbus(wire, clock, True)),
    ),
    Edge("addresses", ADDRESSES, _address),
    Edge(
        "a server's replies",
        st.tuples(st.integers(100, 599), WORDS, st.one_of(st.none(), BYTES, WORDS)),
        _reply,
    ),
    Edge(
        "job cards in requests",
        st.one_of(
            st.text(max_size=80),
            st.builds(
                'strip#{{"bath":{},"step":{},"way":{},"area_dm2":{}}}'.format,
                *[st.sampled_from(['"a"', "null", "7", "-1", "NaN", "[]", '"tank"', '"9"'])] * 4,
            ),
        ),
        _card,
    ),
)
