"""Frames of Modbus: MBAP for TCP, unit and CRC-16 for the serial line.

Modbus Messaging on TCP/IP V1.0b, 3.1; Modbus over Serial Line V1.02, 2.5.1 and 6.2.2.
"""

import struct
from dataclasses import dataclass

MOST_RTU_BYTES = 256
MBAP_BYTES = 7
# Bytes of a whole RTU request by its function (V1.1b3, 6); (where the byte count is, what it adds).
RTU_BYTES = {1: 8, 2: 8, 3: 8, 4: 8, 5: 8, 6: 8, 7: 4, 0x0B: 4, 0x0C: 4, 0x11: 4, 0x16: 10}
RTU_COUNTED = {0x0F: (6, 9), 0x10: (6, 9), 0x14: (2, 5), 0x15: (2, 5), 0x17: (10, 13)}


def _table() -> tuple[int, ...]:
    table = []
    for byte in range(256):
        crc = byte
        for _ in range(8):
            crc = crc >> 1 ^ (0xA001 if crc & 1 else 0)
        table.append(crc)
    return tuple(table)


_CRC = _table()


def crc16(data: bytes) -> bytes:
    """The check of an RTU frame as it stands on the wire, low byte first.

    Examples
    --------
    >>> crc16(bytes.fromhex("02 07")).hex(" ")
    '41 12'
    """
    crc = 0xFFFF
    for byte in data:
        crc = crc >> 8 ^ _CRC[(crc ^ byte) & 0xFF]
    return crc.to_bytes(2, "little")


def rtu_frame(unit: int, pdu: bytes) -> bytes:
    """A frame for the serial line."""
    body = bytes((unit,)) + pdu
    return body + crc16(body)


def rtu_length(start: bytes | bytearray) -> int | None:
    """How long the request that begins so will be.

    None where too little has come to say; 0 where only a silence ends it.
    """
    if len(start) < 2:
        return None
    function = start[1]
    if function in RTU_COUNTED:
        index, more = RTU_COUNTED[function]
        return start[index] + more if len(start) > index else None
    return RTU_BYTES.get(function, 0)


def is_rtu_sound(frame: bytes) -> bool:
    """Whether length and check of a frame are right."""
    return 4 <= len(frame) <= MOST_RTU_BYTES and crc16(frame[:-2]) == frame[-2:]


@dataclass(frozen=True, slots=True)
class Mbap:
    """The header of a frame on TCP; `length` counts the unit and the PDU."""

    transaction: int
    protocol: int
    length: int
    unit: int

    @property
    def is_possible(self) -> bool:
        """Whether a frame may have such a header."""
        return self.protocol == 0 and 2 <= self.length <= 254


def parse_mbap(start: bytes | bytearray) -> Mbap:
    """The header that stands at the start of at least `MBAP_BYTES`."""
    transaction, protocol, length, unit = struct.unpack_from(">HHHB", start)
    return Mbap(transaction, protocol, length, unit)


def tcp_frame(transaction: int, unit: int, pdu: bytes) -> bytes:
    """A frame for TCP.

    Examples
    --------
    >>> tcp_frame(1, 255, bytes.fromhex("03 00 04 00 01")).hex(" ")
    '00 01 00 00 00 06 ff 03 00 04 00 01'
    """
    return struct.pack(">HHHB", transaction, 0, len(pdu) + 1, unit) + pdu
