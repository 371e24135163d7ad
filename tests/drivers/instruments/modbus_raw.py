"""Modbus instruments with the oddities of cheap and old ones, on bare bytes.

Written from the Modbus Application Protocol V1.1b3 and Modbus over Serial Line V1.02, with check
sums of their own; the oddities are common practice, no source.
"""

import itertools
import struct
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from tests.drivers.fake_registers import crc
from tests.drivers.instruments.instrument import Answers, Instrument
from tests.drivers.instruments.registers import at, u16, words
from tests.drivers.instruments.truth import Truth
from tests.drivers.instruments.wire import HangUp

Table = Callable[[Truth], Mapping[int, int]]


@dataclass(frozen=True, slots=True)
class Device:
    """What answers a PDU.

    Parameters
    ----------
    holding, inputs
        What functions 3 and 4 read; what is not there is refused by exception 2, or not at all.
    most
        Registers in one request; more is refused by exception 3.
    is_mute
        Says nothing where others refuse.
    """

    holding: Table = lambda truth: {}
    inputs: Table = lambda truth: {}
    most: int = 125
    is_mute: bool = False
    units: tuple[int, ...] = (1,)
    gateway_says: int | None = None

    def reply(self, truth: Truth, unit: int, pdu: bytes) -> bytes | None:
        """The reply's PDU; None for none."""
        if unit not in self.units:
            if self.gateway_says is None:
                return None
            return bytes((pdu[0] | 0x80, self.gateway_says))
        if len(pdu) != 5 or pdu[0] not in (3, 4):
            return self._refused(pdu[:1] or b"\0", 1)
        function, address, count = struct.unpack(">BHH", pdu)
        table = (self.holding if function == 3 else self.inputs)(truth)
        if count > self.most:
            return self._refused(pdu[:1], 3)
        if any(place not in table for place in range(address, address + count)):
            return self._refused(pdu[:1], 2)
        data = b"".join(table[address + number].to_bytes(2, "big") for number in range(count))
        return bytes((function, len(data))) + data

    def _refused(self, function: bytes, code: int) -> bytes | None:
        return None if self.is_mute else bytes((function[0] | 0x80, code))


def rtu(device: Device, before: bytes = b"", behind: bytes = b"", echoes: bool = False) -> Answers:
    """Frames of a serial line, with what the line driver adds."""

    def answer(truth: Truth, question: bytes) -> bytes | None:
        if len(question) < 8 or crc(question[:-2]) != question[-2:]:
            return None
        pdu = device.reply(truth, question[0], question[1:-2])
        echo = question if echoes else b""
        if pdu is None:
            return echo
        body = question[:1] + pdu
        return echo + before + body + crc(body) + behind

    return answer


def ascii_lines(device: Device) -> Answers:
    """Frames of a serial line in characters."""

    def answer(truth: Truth, question: bytes) -> bytes | None:
        try:
            data = bytes.fromhex(question.strip().lstrip(b":").decode("ascii"))
        except (ValueError, UnicodeDecodeError):
            return None
        if question[:1] != b":" or sum(data) & 0xFF or len(data) < 3:
            return None
        pdu = device.reply(truth, data[0], data[1:-1])
        if pdu is None:
            return None
        body = data[:1] + pdu
        return b":" + (body + bytes((-sum(body) & 0xFF,))).hex().upper().encode() + b"\r\n"

    return answer


def tcp(device: Device, number: Callable[[bytes], bytes] = lambda own: own) -> Answers:
    """Frames of TCP; `number` makes the number of the reply from that of the question."""

    def answer(truth: Truth, question: bytes) -> bytes | None:
        if len(question) < 8 or question[2:4] != b"\0\0" or len(question) != 6 + question[5]:
            raise HangUp
        pdu = device.reply(truth, question[6], question[7:])
        if pdu is None:
            return None
        return number(question[:2]) + struct.pack(">HHB", 0, len(pdu) + 1, question[6]) + pdu

    return answer


EACH_TIME = (
    "one register a request",
    "noise on both sides, and an echo",
    "transaction number always 0",
    "in characters on a serial line",
    "decimals in registers of their own",
)
"""The others are tried by `make trials`."""


def pair(volts: float = 100, amps: float = 100, first: int = 0, second: int = 1) -> Table:
    """Two registers of so many steps a volt and an ampere."""
    return lambda t: at(first, u16(volts * t.volts())) | at(second, u16(amps * t.amps()))


def wide(form: str, order: str, volts: float = 1, amps: float = 1, start: int = 0) -> Table:
    """Two numbers of two registers each."""
    return lambda t: at(
        start, words(form, volts * t.volts(), order) + words(form, amps * t.amps(), order)
    )


def _spaced(t: Truth) -> dict[int, int]:
    return at(3, [*u16(100 * t.volts()), 7701]) | at(300, [*u16(100 * t.amps()), 7702, 7703])


def _scaled(t: Truth) -> dict[int, int]:
    return at(0, [*u16(100 * t.volts()), *u16(1000 * t.amps()), 2, 3])


def _sunny(t: Truth) -> dict[int, int]:
    return at(100, [*u16(100 * t.volts()), 0xFFFE, *u16(10 * t.amps()), 0xFFFF])


def _swapped(t: Truth) -> dict[int, int]:
    return {place: (word & 0xFF) << 8 | word >> 8 for place, word in pair()(t).items()}


_COUNT = itertools.count(1)


def _one(
    name: str,
    answer: Answers,
    manual: tuple[str, str],
    options: str = "",
    is_serial: bool = True,
    by_line: bool = False,
    amps_step: float = 0.01,
    **more: str,
) -> Instrument:
    return Instrument(
        f"modbus, {name}",
        "modbus",
        "pty" if is_serial else "tcp",
        answer,
        {"volts_at": manual[0], "amps_at": manual[1], **more},
        options or ("?parity=none&unit=1" if is_serial else ""),
        by_line=by_line,
        amps_step=amps_step,
        is_trial=name not in EACH_TIME,
    )


INSTRUMENTS = (
    _one(
        "alone and far apart, neighbours refused",
        rtu(Device(pair(first=10, second=500))),
        ("40011", "40501"),
    ),
    _one("one register a request", rtu(Device(pair(), most=1)), ("40001", "40002")),
    _one(
        "far apart, mute where others refuse",
        rtu(Device(_spaced, is_mute=True)),
        ("40004", "40301"),
    ),
    _one("00 before each frame", rtu(Device(pair()), before=b"\0"), ("40001", "40002")),
    _one("FF behind each frame", rtu(Device(pair()), behind=b"\xff"), ("40001", "40002")),
    _one(
        "noise on both sides, and an echo",
        rtu(Device(pair()), before=b"\xfe\0", behind=b"\0\xff", echoes=True),
        ("40001", "40002"),
    ),
    _one(
        "transaction number always 0",
        tcp(Device(pair()), lambda own: b"\0\0"),
        ("40001", "40002"),
        is_serial=False,
    ),
    _one(
        "transaction numbers of its own",
        tcp(Device(pair(first=7, second=90)), lambda own: struct.pack(">H", next(_COUNT) & 0xFFF)),
        ("40008", "40091"),
        is_serial=False,
    ),
    _one(
        "unit 255 over TCP",
        tcp(Device(pair(), units=(255,))),
        ("40001", "40002"),
        "?unit=255",
        is_serial=False,
    ),
    _one(
        "unit 0 over TCP",
        tcp(Device(pair(), units=(0,))),
        ("40001", "40002"),
        "?unit=0",
        is_serial=False,
    ),
    _one(
        "behind a gateway that answers for all",
        tcp(Device(pair(), units=(3,), gateway_says=0x0B)),
        ("40001", "40002"),
        "?unit=3",
        is_serial=False,
    ),
    _one(
        "behind a plain serial server",
        rtu(Device(pair(), units=(2,))),
        ("40001", "40002"),
        "?framing=rtu&unit=2",
        is_serial=False,
    ),
    _one(
        "in characters on a serial line",
        ascii_lines(Device(pair())),
        ("40001", "40002"),
        "?parity=none&data_bits=8&framing=ascii",
        by_line=True,
    ),
    _one(
        "in characters over TCP",
        ascii_lines(Device(pair(), units=(5,))),
        ("40001", "40002"),
        "?framing=ascii&unit=5",
        is_serial=False,
        by_line=True,
    ),
    _one(
        "volts by function 3, amps by function 4",
        rtu(Device(lambda t: at(5, u16(100 * t.volts())), lambda t: at(5, u16(100 * t.amps())))),
        ("40006", "30006"),
    ),
    _one(
        "hundredths and thousandths",
        rtu(Device(pair(100, 1000))),
        ("40001", "40002"),
        amps_step=0.001,
    ),
    _one("bytes swapped", rtu(Device(_swapped)), ("40001", "40002")),
    _one(
        "32-bit integers, low word first",
        rtu(Device(wide(">i", "CDAB", 1000, 1000))),
        ("40001", "40003"),
        amps_step=0.001,
        type="uint32",
    ),
    _one(
        "floats, all bytes the other way round",
        tcp(Device(inputs=wide(">f", "DCBA", start=40))),
        ("30041", "30043"),
        is_serial=False,
    ),
    _one(
        "decimals in registers of their own",
        rtu(Device(_scaled)),
        ("40001", "40002"),
        amps_step=0.001,
        scale_at="40003, 40004",
    ),
    _one(
        "signed exponents beside the values",
        tcp(Device(_sunny)),
        ("40101", "40103"),
        is_serial=False,
        amps_step=0.1,
        scale_at="40102, 40104",
    ),
)
