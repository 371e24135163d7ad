"""Frames held against those printed in the Modbus standards, byte for byte."""

import io
import logging
from collections.abc import Callable
from contextlib import redirect_stderr

import pytest
from hypothesis import given
from hypothesis import strategies as st

import drivers.modbus.modbus_codec as codec
from drivers.errors import NotUnderstood, QuestionRefused
from drivers.link.shared_link import frame_gap_s
from drivers.modbus.modbus_codec import (
    Refusal,
    Registers,
    TcpReply,
    ascii_content,
    ascii_frame,
    is_rtu_reply,
    is_rtu_sound,
    read_rtu,
    read_tcp,
    rtu_frame,
    tcp_frame,
    tcp_reply,
)
from drivers.modbus.modbus_refusals import refusal_words
from drivers.modbus.register_question import RegisterQuestion
from tests.drivers.fake_registers import crc, framed


def question(
    unit: int = 17, function: int = 3, address: int = 107, count: int = 3
) -> RegisterQuestion:
    return RegisterQuestion(unit, function, address, count)


# PDUs: Modbus Application Protocol V1.1b3, 6.3 and 6.4. Whole frames with their check sums were
# reckoned from V1.02, 6.2.2; the first three stand in published examples, too.
@pytest.mark.parametrize(
    ("unit", "function", "address", "count", "wire"),
    [
        (0x11, 3, 0x6B, 3, "11 03 00 6B 00 03 76 87"),
        (0x11, 4, 0x08, 1, "11 04 00 08 00 01 B2 98"),
        (0x01, 3, 0x00, 2, "01 03 00 00 00 02 C4 0B"),
        (0x01, 3, 0x00, 10, "01 03 00 00 00 0A C5 CD"),
    ],
)
def test_questions_are_the_standards_frames(
    unit: int, function: int, address: int, count: int, wire: str
) -> None:
    assert rtu_frame(question(unit, function, address, count)) == bytes.fromhex(wire)


def test_the_standards_reply_holds_its_registers() -> None:
    # V1.1b3, 6.3: registers 108 to 110 hold 555, 0, 100.
    frame = framed(0x11, bytes.fromhex("03 06 02 2B 00 00 00 64"))
    assert is_rtu_reply(question(), frame)
    assert read_rtu(frame) == Registers((555, 0, 100))
    # A published RTU frame with its check sum.
    frame = bytes.fromhex("11 03 06 AE 41 56 52 43 40 49 AD")
    assert is_rtu_reply(question(), frame)
    assert read_rtu(frame) == Registers((0xAE41, 0x5652, 0x4340))


def test_the_standards_input_register_is_ten() -> None:
    # V1.1b3, 6.4: input register 9 holds 10.
    frame = framed(0x11, bytes.fromhex("04 02 00 0A"))
    asked = question(function=4, address=8, count=1)
    assert is_rtu_reply(asked, frame)
    assert read_rtu(frame) == Registers((10,))


def test_an_exception_is_read_as_its_code() -> None:
    frame = bytes.fromhex("11 83 02 C1 34")  # a published frame; V1.1b3, 7
    assert is_rtu_reply(question(), frame)
    assert read_rtu(frame) == Refusal(2)


def test_check_sums_are_the_standards() -> None:
    assert is_rtu_sound(bytes.fromhex("02 07 41 12"))  # V1.02, 6.2.2
    assert is_rtu_sound(b"123456789" + (0x4B37).to_bytes(2, "little"))  # the usual check string
    assert not is_rtu_sound(bytes.fromhex("02 07 12 41"))


# V1.1b3, 6.1, 6.2, 6.5, 6.6 and 6.12, as whole frames of unit 17; check sums by V1.02, 6.2.2.
@pytest.mark.parametrize(
    "frame",
    [
        "11 01 00 13 00 25 0E 84",
        "11 02 00 C4 00 16 BA A9",
        "11 05 00 AC FF 00 4E 8B",
        "11 06 00 01 00 03 9A 9B",
        "11 10 00 01 00 02 04 00 0A 01 02 C6 F0",
    ],
)
def test_frames_of_other_functions_are_sound_and_answer_nothing_that_is_asked(frame: str) -> None:
    wire = bytes.fromhex(frame)
    assert is_rtu_sound(wire)
    assert not is_rtu_sound(wire[:-1] + bytes((wire[-1] ^ 1,)))
    for function in (3, 4):
        assert not is_rtu_reply(question(function=function), wire)


def test_gaps_are_the_standards() -> None:
    # V1.02, 2.5.1.1: 3.5 characters of 11 bits; fixed at 1.750 ms over 19200 baud.
    assert frame_gap_s(9600) == pytest.approx(4.0104e-3, abs=1e-7)
    assert frame_gap_s(19200) == pytest.approx(2.0052e-3, abs=1e-7)
    assert frame_gap_s(38400) == frame_gap_s(115200) == 1.750e-3


def test_tcp_frames_carry_the_header_of_the_standard() -> None:
    # Modbus Messaging on TCP/IP V1.0b, 3.1 and 4.2: number, protocol 0, length, unit.
    frame = tcp_frame(question(0xFF, 3, 4, 1), 0x1501)
    assert frame == bytes.fromhex("15 01 00 00 00 06 FF 03 00 04 00 01")
    found = tcp_reply(bytes.fromhex("15 01 00 00 00 05 FF 03 02 00 05 AA"))
    assert found is not None
    reply, rest = found
    assert (reply.transaction, rest) == (0x1501, b"\xaa")
    assert read_tcp(question(0xFF, 3, 4, 1), reply) == Registers((5,))


def test_only_an_exception_to_the_own_question_is_its_reply() -> None:
    # V1.1b3, 7: the function with its highest bit set, and one byte of code.
    inputs = question(function=4)
    assert is_rtu_reply(inputs, framed(17, bytes((0x84, 2))))
    assert not is_rtu_reply(question(), framed(17, bytes((0x84, 2))))
    assert not is_rtu_reply(question(), framed(17, bytes((0x83, 2, 0, 0))))


# Messaging on TCP/IP V1.0b, 3.1.3: protocol 0; the length counts unit and PDU, 254 at most.
@pytest.mark.parametrize(
    "header", ["00 01 00 01 00 05 11", "00 01 00 00 01 05 11", "00 01 00 00 00 01 11",
               "00 01 00 00 00 FF 11"],
)  # fmt: skip
def test_what_is_no_header_on_tcp_is_refused_at_once(header: str) -> None:
    with pytest.raises(NotUnderstood, match=r"^no header of Modbus/TCP$"):
        tcp_reply(bytes.fromhex(header))


@pytest.mark.parametrize("length", [2, 5, 254])
def test_a_reply_on_tcp_is_taken_as_soon_as_it_is_whole(length: int) -> None:
    pdu = bytes((3, *range(length - 2)))
    data = bytes((0, 7, 0, 0, 0, length, 17)) + pdu
    assert tcp_reply(data[:6]) is None
    assert tcp_reply(data[:-1]) is None
    assert tcp_reply(data) == (TcpReply(7, 17, pdu), b"")


@pytest.mark.parametrize(
    ("unit", "pdu", "says"),
    [
        (18, "03 06 02 2B 00 00 00 64", "unit 18 answers instead of unit 17"),
        (17, "04 06 02 2B 00 00 00 64", "the reply is to function 4, not 3"),
        (17, "83", "an exception of another length"),
        (17, "83 02 00", "an exception of another length"),
        (17, "03 04 02 2B 00 00 00 64", "a reply of 8 bytes to 3 registers"),
        (17, "03 06 02 2B 00 00", "a reply of 6 bytes to 3 registers"),
        (17, "03 04 02 2B 00 00", "a reply of 6 bytes to 3 registers"),
    ],
)
def test_a_reply_to_another_question_is_told_apart(unit: int, pdu: str, says: str) -> None:
    with pytest.raises(NotUnderstood) as told:
        read_tcp(question(), TcpReply(1, unit, bytes.fromhex(pdu)))
    assert str(told.value) == says


@pytest.mark.parametrize("pdu", ["03", "03 06 00", "06 00 01 00 03"])
def test_what_the_library_cannot_read_is_no_reply(pdu: str) -> None:
    with pytest.raises(NotUnderstood, match=r"^not a reply to a question for registers$"):
        read_rtu(framed(17, bytes.fromhex(pdu)))


def test_a_reply_to_the_own_question_is_read_on_tcp() -> None:
    good = bytes.fromhex("03 06 02 2B 00 00 00 64")  # V1.1b3, 6.3
    assert read_tcp(question(), TcpReply(1, 17, good)) == Registers((555, 0, 100))
    assert read_tcp(question(), TcpReply(1, 17, bytes((0x83, 2)))) == Refusal(2)


@pytest.mark.parametrize("unit", [256, -1])
def test_no_other_unit_can_be_asked(unit: int) -> None:
    with pytest.raises(QuestionRefused):
        question(unit=unit)


# V1.02, 2.2: unit 0 is the broadcast of a serial line. On TCP it is a device without a line behind
# it (Modbus Messaging on TCP/IP Implementation Guide V1.0b, 4.4.2.1, which allows 0 and 255).
@pytest.mark.parametrize("frame", [rtu_frame, ascii_frame])
def test_no_broadcast_goes_on_a_serial_line(frame: Callable[[RegisterQuestion], bytes]) -> None:
    with pytest.raises(QuestionRefused, match="all units"):
        frame(question(unit=0))
    assert tcp_frame(question(unit=0), 1)[6] == 0


# V1.02, 6.2.1: the check sum LRC is minus the sum of all bytes; the frame reckoned by hand.
def test_a_line_of_characters_is_read_only_where_its_check_sum_is_right() -> None:
    assert ascii_content(b":1103020102E7\r\n") == (0x11, b"\x03\x02\x01\x02")
    for broken in (b":1103020103E7\r\n", b":1103020102\r\n", b":11030201zzE7\r\n", b":\r\n", b"\n"):
        assert ascii_content(broken) is None


@pytest.mark.parametrize("function", [0, 1, 2, 5, 6, 7, 8, 15, 16, 21, 22, 23, 43, 131])
def test_no_other_function_can_be_asked(function: int) -> None:
    with pytest.raises(QuestionRefused):
        question(function=function)


@pytest.mark.parametrize(("address", "count"), [(0, 0), (0, 126), (65535, 2), (-1, 1), (65536, 1)])
def test_no_registers_outside_the_standard_can_be_asked(address: int, count: int) -> None:
    with pytest.raises(QuestionRefused):
        question(address=address, count=count)


def test_nothing_that_writes_can_be_had_from_the_codec() -> None:
    assert not [name for name in vars(codec) if "Write" in name or "Client" in name]
    assert set(codec._ReadingDecoder.pdu_table) == {3, 4}
    # V1.1b3, 6.6: the reply to a written register is no reply here, whatever its check sum.
    with pytest.raises(NotUnderstood):
        read_rtu(bytes.fromhex("11 06 00 01 00 03 9A 9B"))


def test_the_library_says_nothing_on_the_terminal() -> None:
    said = io.StringIO()
    with redirect_stderr(said):
        with pytest.raises(NotUnderstood):
            read_rtu(framed(17, bytes.fromhex("03 06 00")))
        logging.getLogger("pymodbus.logging").error("something")
    assert said.getvalue() == ""


@pytest.mark.parametrize("code", [1, 2, 3, 4, 5, 6, 8, 0x0A, 0x0B])
def test_each_exception_says_what_to_do(code: int) -> None:
    words = refusal_words(code)
    assert words.startswith(f"exception {code:02X}, ")
    assert ": " in words


def test_an_unknown_exception_is_said_to_be_unknown() -> None:
    assert "no standard meaning" in refusal_words(0x44)


@given(data=st.binary(max_size=40))
def test_no_rubbish_is_taken_for_a_reply(data: bytes) -> None:
    assert not is_rtu_reply(question(), data) or crc(data[:-2]) == data[-2:]
    try:
        found = tcp_reply(data)
    except NotUnderstood:
        return
    if found is not None:
        with pytest.raises(NotUnderstood):
            read_tcp(question(200), found[0])


@given(
    values=st.lists(st.integers(0, 0xFFFF), min_size=1, max_size=125),
    flips=st.lists(st.integers(0, 2039), min_size=1, max_size=3, unique=True),
)
def test_a_reply_with_up_to_three_bits_wrong_is_no_reply(
    values: list[int], flips: list[int]
) -> None:
    # CRC-16 finds all errors of up to three bits in frames of this length (from memory).
    asked = question(count=len(values))
    pdu = bytes((3, 2 * len(values))) + b"".join(value.to_bytes(2, "big") for value in values)
    frame = bytearray(framed(17, pdu))
    assert read_rtu(bytes(frame)) == Registers(tuple(values))
    for flip in flips:
        frame[flip // 8 % len(frame)] ^= 1 << flip % 8
    if bytes(frame) != framed(17, pdu):
        assert not is_rtu_reply(asked, bytes(frame))
