"""A scripted Modbus unit for these tests: its replies, and when they leave.

Written from the Modbus Application Protocol V1.1b3 (6.3, 6.4, 7) and Modbus over Serial Line V1.02
(2.5.1, 6.2.2), never from our driver, with a check sum of its own. Every value is different from
every other one, so that a test can tell to which question it belongs.
"""

import struct
from dataclasses import dataclass, field

from drivers.promises import Given
from tests.drivers.spoiling import Piece, Spoiling

EVERY_UNIT: list["FakeRegisters"] = []
"""All that were made in the running test: the list of what was sent is checked after it."""

DESCRIPTION = """
format = 1
kind = "modbus"
title = "supply of these tests"
source = "invented"
[talk]
quiet_ms = 0
[volts]
function = 3
address = 0
manual = 40001
type = "float32"
source = "invented"
[amps]
function = 3
address = 2
type = "float32"
source = "invented"
[celsius]
function = 3
address = 5
type = "float32"
source = "invented"
[status]
function = 3
address = 4
cut_out_bits = [2]
constant_voltage_bits = [0]
source = "invented"
[identity]
function = 3
address = 100
registers = 2
source = "invented"
"""

QUANTITIES = {
    0: ("volts", 6.0),
    2: ("amps", 2000.0),
    5: ("celsius", 300.0),
    60: ("amps", 2000.0),
}
"""By address; amps stand in two places, for a map that forces two requests."""
STATUS, IDENTITY = 4, 100


def crc(data: bytes) -> bytes:
    """V1.02, 6.2.2: preset FFFF, polynomial A001, low byte first."""
    value = 0xFFFF
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = (value >> 1) ^ (0xA001 if value & 1 else 0)
    return value.to_bytes(2, "little")


def framed(unit: int, pdu: bytes) -> bytes:
    body = bytes((unit,)) + pdu
    return body + crc(body)


@dataclass
class FakeRegisters(Spoiling):
    """One or more units.

    Parameters
    ----------
    is_tcp
        Speaks Modbus/TCP; else RTU.
    refuses
        An exception code for each block of (function, address, count) that has one.
    """

    is_tcp: bool = False
    units: tuple[int, ...] = (1,)
    serial: int = 0x00010007
    status: int = 1
    values: dict[int, bytes] = field(default_factory=dict)
    refuses: dict[tuple[int, int, int], int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        super().__post_init__()
        EVERY_UNIT.append(self)

    def receive(self, data: bytes) -> list[Piece]:
        """Take bytes as they come; what is to be sent for the frames that they complete."""
        self.unfinished += data
        length = 12 if self.is_tcp else 8
        pieces: list[Piece] = []
        while len(self.unfinished) >= length:
            frame, self.unfinished = self.unfinished[:length], self.unfinished[length:]
            self.received.append(frame)
            pieces += self.answer(frame)
        return pieces

    def answer(self, frame: bytes) -> list[Piece]:
        unit, pdu = (frame[6], frame[7:]) if self.is_tcp else (frame[0], frame[1:-2])
        if unit not in self.units:
            return []
        reply = self.reply(*struct.unpack(">BHH", pdu))
        if self.is_tcp:
            head = frame[:4] + struct.pack(">HB", len(reply) + 1, unit)
            return self.spoil(head + reply)
        return self.spoil(framed(unit, reply))

    def reply(self, function: int, address: int, count: int) -> bytes:
        code = self.refuses.get((function, address, count))
        if code is not None:
            return bytes((function | 0x80, code))
        data = bytearray(2 * count)
        for at in range(count):
            if address + at in QUANTITIES and at + 1 < count:
                data[2 * at : 2 * at + 4] = self.measured(address + at)
            elif address + at == STATUS:
                data[2 * at : 2 * at + 2] = self.status.to_bytes(2, "big")
            elif address + at == IDENTITY and at + 1 < count:
                data[2 * at : 2 * at + 4] = self.serial.to_bytes(4, "big")
        return bytes((function, len(data))) + bytes(data)

    def measured(self, address: int) -> bytes:
        if address in self.values:
            return self.values[address]
        quantity, start = QUANTITIES[address]
        raw = struct.pack(">f", start + (len(self.given) + 1) / 64)
        self.given.append(Given(quantity, struct.unpack(">f", raw)[0]))
        return raw

    def is_question(self, message: bytes) -> bool:
        """Function 3 or 4, no broadcast, a right check sum; V1.1b3, 6.3 and 6.4."""
        if self.is_tcp:
            return message[2:6] == b"\0\0\0\6" and message[6] != 0 and message[7] in (3, 4)
        return message[0] != 0 and message[1] in (3, 4) and message[-2:] == crc(message[:-2])
