"""The Modbus ends against the standards' own frames, however the bytes are cut.

Frames: Modbus Application Protocol V1.1b3 (section 6, examples of each function) and Modbus over
Serial Line V1.02 (6.2.2, the CRC); frames of unit 17 with their CRC computed by its algorithm.
"""

import itertools
import struct

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulators.meters import Meters
from simulators.modbus_end import ModbusRtuEnd, ModbusTcpEnd
from simulators.modbus_frame import crc16, rtu_frame, tcp_frame
from simulators.modbus_unit import ModbusUnit
from simulators.register_map import Hole, Register, RegisterMap, load_map
from simulators.register_word import arrange
from simulators.rig import Rig
from simulators.scene import load_scene
from simulators.tags import Tag, read_tag

SCENE = load_scene("tank-warms-to-trip")


def h(text: str) -> bytes:
    return bytes.fromhex(text)


def whole_registers(start: int, words: list[int], function: int = 3) -> RegisterMap:
    """Registers with fixed contents: the serial number can be any, and so can "no value"."""
    registers = tuple(
        # A scene without a probe has no celsius, so its register holds the bits for "no value".
        Register("celsius", start + at, function, "uint16", no_value=word)
        for at, word in enumerate(words)
    )
    return RegisterMap("fixed", "fixed", registers, last=65535)


def unit(registers: RegisterMap, number: int = 1, *, mute: bool = False) -> ModbusUnit:
    rig = Rig(load_scene("swab-warms-to-trip"))  # without a probe
    return ModbusUnit(registers, Meters(rig, number), is_mute=mute)


def rtu(registers: RegisterMap, number: int = 1) -> ModbusRtuEnd:
    return ModbusRtuEnd({number: unit(registers, number)})


def ask(end: ModbusRtuEnd | ModbusTcpEnd, frame: bytes) -> bytes:
    end.feed(frame, 0.0)
    return end.take()


# Frames of the standards


@pytest.mark.parametrize(
    ("body", "check"),
    [
        ("02 07", "41 12"),  # V1.02, 6.2.2: CRC 1241h
        ("11 03 00 6B 00 03", "76 87"),
        ("11 04 00 08 00 01", "B2 98"),
        ("11 05 00 AC FF 00", "4E 8B"),
        ("11 06 00 01 00 03", "9A 9B"),
        ("11 10 00 01 00 02 04 00 0A 01 02", "C6 F0"),
        ("01 03 00 00 00 02", "C4 0B"),
        ("01 03 00 00 00 0A", "C5 CD"),
        ("11 83 02", "C1 34"),
    ],
)
def test_the_check_of_a_frame_is_the_standards(body: str, check: str) -> None:
    assert crc16(h(body)) == h(check)


def test_the_check_string_of_crc_catalogues() -> None:
    assert crc16(b"123456789") == h("37 4B")  # CRC-16/MODBUS: 4B37h, low byte first


def test_holding_registers_as_in_the_frames_of_unit_17() -> None:
    end = rtu(whole_registers(0x6B, [0xAE41, 0x5652, 0x4340]), 0x11)
    answer = ask(end, h("11 03 00 6B 00 03 76 87"))
    assert answer == h("11 03 06 AE 41 56 52 43 40 49 AD")


def test_function_3_as_in_its_example() -> None:
    # V1.1b3, 6.3: 555, 0 and 100 in the registers 108 to 110.
    device = unit(whole_registers(0x6B, [555, 0, 100]))
    assert device.answer(h("03 00 6B 00 03")).pdu == h("03 06 02 2B 00 00 00 64")


def test_function_4_as_in_its_example() -> None:
    # V1.1b3, 6.4: 10 in the input register 9.
    device = unit(whole_registers(8, [10], function=4))
    assert device.answer(h("04 00 08 00 01")).pdu == h("04 02 00 0A")


def test_an_exception_has_the_functions_highest_bit_and_a_code() -> None:
    # V1.1b3, 7: the request 01 04 A1 00 01 is answered 81 02; here no coil exists, hence 01.
    device = unit(whole_registers(0, [1]))
    assert device.answer(h("01 04 A1 00 01")).pdu == h("81 01")
    end = rtu(load_map("supply-uint16"), 0x11)
    assert ask(end, rtu_frame(0x11, h("03 04 A1 00 01"))) == h("11 83 02 C1 34")


@pytest.mark.parametrize(
    ("first", "count", "answer"),
    [(96, 4, None), (96, 5, "83 02"), (0, 100, None), (100, 1, "83 02"), (65535, 2, "83 02")],
)
def test_reading_past_the_end_is_an_illegal_address(
    first: int, count: int, answer: str | None
) -> None:
    # V1.1b3, 7, code 02: of 100 registers, 4 from 96 on can be read, 5 cannot.
    device = unit(RegisterMap("hundred", "", (Register("volts", 0),), last=99))
    pdu = device.answer(bytes((3, *first.to_bytes(2, "big"), *count.to_bytes(2, "big")))).pdu
    assert pdu == (h(answer) if answer else bytes((3, 2 * count)) + bytes(2 * count))


@pytest.mark.parametrize(("count", "code"), [(0, 3), (1, None), (125, None), (126, 3), (65535, 3)])
def test_from_1_to_125_registers_can_be_asked_for(count: int, code: int | None) -> None:
    device = unit(RegisterMap("many", "", (Register("volts", 0),), last=999))
    pdu = device.answer(h("03 00 00") + count.to_bytes(2, "big")).pdu
    assert pdu[0] == (3 if code is None else 0x83)
    assert pdu[1] == (2 * count if code is None else code)


@pytest.mark.parametrize(
    ("request_pdu", "command"),
    [
        ("05 00 AC FF 00", "function 05"),
        ("06 00 01 00 03", "function 06"),
        ("0F 00 13 00 0A 02 CD 01", "function 0F"),
        ("10 00 01 00 02 04 00 0A 01 02", "function 10"),
        ("16 00 04 00 F2 00 25", "function 16"),
        ("17 00 03 00 06 00 0E 00 03 06 00 FF 00 FF 00 FF", "function 17"),
        ("08 00 01 00 00", "function 08"),
        ("65 01 02", "function 65"),
    ],
)
def test_whatever_would_write_is_refused_and_put_on_record(request_pdu: str, command: str) -> None:
    # V1.1b3, 6: the standard's own examples of each writing function.
    pdu, answer = h(request_pdu), bytes((h(request_pdu)[0] | 0x80, 1))
    serial, tcp = rtu(load_map("supply-uint16")), ModbusTcpEnd({1: unit(load_map("supply-uint16"))})
    serial.feed(rtu_frame(1, pdu), 0.0)
    serial.pause(0.0)
    assert serial.take() == rtu_frame(1, answer)
    assert ask(tcp, tcp_frame(7, 1, pdu)) == tcp_frame(7, 1, answer)
    for end in (serial, tcp):
        assert [exchange.commands for exchange in end.exchanges()] == [(command,)]


def test_reading_puts_no_command_on_record() -> None:
    end = rtu(load_map("supply-uint16"))
    for pdu in (h("03 00 00 00 02"), h("04 00 00 00 02"), h("01 00 00 00 01"), h("11")):
        ask(end, rtu_frame(1, pdu))
    assert [exchange.commands for exchange in end.exchanges()] == [()] * 4


# The rules of the ends


def test_rule_1_a_broadcast_is_silent_and_on_record() -> None:
    # V1.02, 2.2: no answer to address 0.
    end = rtu(load_map("supply-uint16"))
    assert ask(end, rtu_frame(0, h("06 00 01 00 03"))) == b""
    assert ask(end, rtu_frame(0, h("03 00 00 00 01"))) == b""
    assert [exchange.commands for exchange in end.exchanges()] == [
        ("broadcast of function 06",),
        ("broadcast of function 03",),
    ]


def test_rule_2_only_the_unit_that_is_meant_answers() -> None:
    registers = load_map("supply-uint16")
    units = {
        1: unit(registers, 1),
        2: unit(registers, 2, mute=True),
        9: ModbusUnit(registers, Meters(Rig(SCENE)), serial=77),
    }
    read = h("03 00 10 00 02")
    end = ModbusRtuEnd(units)
    assert ask(end, rtu_frame(1, read)) == rtu_frame(1, h("03 04 00 00 00 01"))
    assert ask(end, rtu_frame(9, read)) == rtu_frame(9, h("03 04 00 00 00 4D"))
    assert ask(end, rtu_frame(2, read)) == b""
    assert ask(end, rtu_frame(3, read)) == b""
    assert [exchange.unit for exchange in end.exchanges()] == [1, 9, 2, 3]
    plain, gateway = ModbusTcpEnd(units), ModbusTcpEnd(units, is_gateway=True)
    assert ask(plain, tcp_frame(1, 2, read)) + ask(plain, tcp_frame(2, 3, read)) == b""
    # V1.1b3, 7: 0B, the target does not respond; 0A, there is no path to it.
    assert ask(gateway, tcp_frame(1, 2, read)) == tcp_frame(1, 2, h("83 0B"))
    assert ask(gateway, tcp_frame(2, 3, read)) == tcp_frame(2, 3, h("83 0A"))


def test_rule_3_a_frame_of_unknown_length_ends_with_a_silence() -> None:
    end = rtu(load_map("supply-uint16"))
    assert ask(end, rtu_frame(1, h("41 01 02 03"))) == b""
    assert end.has_part
    end.pause(0.0)
    assert end.take() == rtu_frame(1, h("C1 01"))
    assert not end.has_part


@pytest.mark.parametrize("bit", [0, 13, 40, 63])
def test_rule_4_a_frame_with_a_wrong_bit_gets_no_answer(bit: int) -> None:
    # V1.02, 2.5.1.2: a frame in error is discarded, without an exception.
    frame = bytearray(rtu_frame(1, h("03 00 00 00 02")))
    frame[bit // 8] ^= 1 << bit % 8
    end = rtu(load_map("supply-uint16"))
    assert ask(end, bytes(frame)) == b""
    assert ask(end, rtu_frame(1, h("03 00 00 00 02"))) == b""  # no silence between
    end.pause(0.0)
    assert ask(end, rtu_frame(1, h("03 00 00 00 02"))) != b""


def test_rule_4_half_a_frame_is_forgotten_after_a_silence() -> None:
    end = rtu(load_map("supply-uint16"))
    frame = rtu_frame(1, h("03 00 00 00 02"))
    assert ask(end, frame[:5]) == b""
    end.pause(0.0)
    assert len(ask(end, frame)) == 9


@pytest.mark.parametrize(
    "rubbish", ["00 01 00 01 00 06 01", "00 01 00 00 00 01 01", "00 01 00 00 00 FF 01"]
)
def test_rule_5_a_header_that_cannot_be_drops_what_came_with_it(rubbish: str) -> None:
    # Messaging on TCP/IP V1.0b, 3.1.3: protocol 0; 4.2: at most 260 bytes in all.
    end = ModbusTcpEnd({1: unit(load_map("supply-uint16"))})
    request = tcp_frame(3, 1, h("03 00 00 00 01"))
    assert ask(end, h(rubbish) + request) == b""
    assert ask(end, request)[:2] == h("00 03")


# However the bytes are cut


READS = [h("03 00 00 00 04"), h("04 00 00 00 01"), h("03 00 10 00 02"), h("06 00 01 00 03")]
SERIAL = b"".join(rtu_frame(1, pdu) for pdu in READS)
TCP = b"".join(tcp_frame(number, 1, pdu) for number, pdu in enumerate(READS))


def talk(is_rtu: bool, pieces: list[bytes]) -> bytes:
    units = {1: unit(load_map("supply-uint16"))}
    end: ModbusRtuEnd | ModbusTcpEnd = ModbusRtuEnd(units) if is_rtu else ModbusTcpEnd(units)
    return b"".join(ask(end, piece) for piece in pieces)


@pytest.mark.parametrize("is_rtu", [True, False])
def test_fed_byte_by_byte_or_merged_it_says_what_it_says_fed_whole(is_rtu: bool) -> None:
    data = SERIAL if is_rtu else TCP
    merged = talk(is_rtu, [data])
    assert talk(is_rtu, [bytes((byte,)) for byte in data]) == merged
    assert merged.count(h("86 01")) == 1


@settings(max_examples=40)
@given(st.booleans(), st.lists(st.integers(0, len(SERIAL)), max_size=8))
def test_however_it_is_cut_it_says_the_same(is_rtu: bool, cuts: list[int]) -> None:
    data = SERIAL if is_rtu else TCP
    edges = [0, *sorted(cuts), len(data)]
    assert talk(is_rtu, [data[a:b] for a, b in itertools.pairwise(edges)]) == talk(is_rtu, [data])


@settings(max_examples=100)
@given(st.binary(max_size=300))
def test_no_rubbish_outlasts_a_silence(rubbish: bytes) -> None:
    end = rtu(load_map("supply-uint16"))
    end.feed(rubbish, 0.0)
    end.pause(0.0)
    end.take()
    assert len(ask(end, rtu_frame(1, h("03 00 00 00 02")))) == 9


# What stands in the registers


@pytest.mark.parametrize(
    ("order", "in_registers"),
    [("ABCD", "41480000"), ("CDAB", "00004148"), ("BADC", "48410000"), ("DCBA", "00004841")],
)
def test_the_four_orders_of_a_float(order: str, in_registers: str) -> None:
    # IEEE 754 binary32: 12.5 is 41480000h.
    found = {way: arrange(0x41480000, "float32", way) for way in ("ABCD", "CDAB", "BADC", "DCBA")}
    assert found[order].hex() == in_registers


@pytest.mark.parametrize("name", ["supply-uint16", "supply-float32", "supply-int32-cdab"])
def test_a_block_holds_what_the_meters_show(name: str) -> None:
    rig = Rig(SCENE)
    registers = load_map(name)
    device = ModbusUnit(registers, Meters(rig), serial=7)
    rig.advance_to(60.0)
    volts = registers.registers[0]
    count = 2 * volts.width + 1
    request = bytes((volts.function, *volts.address.to_bytes(2, "big"), 0, count))
    data = device.answer(request).pdu[2:]
    half = len(data[:-2]) // 2 if volts.width == 2 else 2
    shown = rig.measured()
    assert value(volts, data[:half]) == pytest.approx(shown.volts, abs=0.006)
    assert value(volts, data[half : 2 * half]) == pytest.approx(shown.amps, abs=0.006)
    if name != "supply-float32":
        assert data[-1] == 1  # holds its volts


def value(register: Register, data: bytes) -> float:
    """What a value means, worked out here without the simulator's own code."""
    if register.order == "CDAB":
        data = data[2:] + data[:2]
    form = {"uint16": ">H", "int32": ">i", "float32": ">f"}[register.kind]
    number: float = struct.unpack(form, data)[0]
    return number * register.scale


def test_what_there_is_not_is_the_maps_sentinel() -> None:
    device = unit(load_map("supply-uint16"))
    assert device.answer(h("03 00 03 00 01")).pdu == h("03 02 7F FF")
    device = unit(load_map("supply-float32"))
    assert device.answer(h("04 00 04 00 02")).pdu == h("04 04 7F C0 00 00")


def test_holes_and_the_most_registers_of_one_request() -> None:
    device = unit(load_map("supply-int32-cdab"))
    assert device.answer(h("03 01 00 00 06")).pdu[:2] == h("03 0C")
    assert device.answer(h("03 01 00 00 07")).pdu == h("83 02")
    assert device.answer(h("03 01 30 00 0B")).pdu == h("83 03")
    assert device.answer(h("03 01 30 00 02")).pdu == h("03 04 00 01 00 00")
    assert device.answer(h("04 01 00 00 02")).pdu == h("84 01")
    mapped = RegisterMap("", "", (), holes=(Hole(5, 9),))
    allowed = [
        (first, count) for first in range(12) for count in (1, 3) if mapped.allows(first, count)
    ]
    assert allowed == [
        *[(first, count) for first in (0, 1, 2) for count in (1, 3)],
        (3, 1), (4, 1), (10, 1), (10, 3), (11, 1), (11, 3),
    ]  # fmt: skip


def test_an_identity_is_text_and_can_be_another_for_a_while() -> None:
    device = unit(load_map("supply-uint16"))
    end = ModbusRtuEnd({1: device})
    read = h("03 00 20 00 14")
    own = device.answer(read).pdu[2:].rstrip(b"\0")
    assert own == b"BATHVIGIL SIM,DC-12-10,SIM0001,1.0"
    end.pose_as(42)
    assert device.answer(read).pdu[2:].rstrip(b"\0") == own.replace(b"0001", b"0042")
    assert device.answer(h("03 00 10 00 02")).pdu == h("03 04 00 00 00 2A")
    end.pose_as(None)
    assert device.answer(read).pdu[2:].rstrip(b"\0") == own


def test_half_a_value_is_put_on_record() -> None:
    end = rtu(load_map("supply-int32-cdab"))
    ask(end, rtu_frame(1, h("03 01 00 00 03")))
    ask(end, rtu_frame(1, h("03 01 00 00 04")))
    assert [exchange.torn for exchange in end.exchanges()] == [("amps",), ()]


@pytest.mark.parametrize(
    ("name", "count"), [("supply-uint16", 2), ("supply-float32", 4), ("supply-int32-cdab", 4)]
)
def test_tagged_values_tell_whose_they_are(name: str, count: int) -> None:
    registers = load_map(name)
    volts = registers.registers[0]
    device = ModbusUnit(registers, Meters(Rig(SCENE), 5, is_tagged=True))
    step = 0.001 if volts.kind == "float32" else volts.scale
    read = bytes((volts.function, *volts.address.to_bytes(2, "big"), 0, count))
    for number in (1, 2, 3):
        reply = device.answer(read)
        half = len(reply.pdu[2:]) // 2
        one, other = (value(volts, reply.pdu[2 + at : 2 + at + half]) for at in (0, half))
        assert read_tag(one, step) == Tag("volts", 5, number)
        assert read_tag(other, step) == Tag("amps", 5, number)
        assert reply.tags == (Tag("volts", 5, number), Tag("amps", 5, number))
