"""How Modbus frames without a number of their own lie in the bytes that come.

Three framings: RTU and ASCII (Modbus over Serial Line V1.02, 2.5), and Modbus/TCP from a device
that does not send back the number of a question. `modbus_rtu.py` keeps question and reply in step.
"""

from abc import ABC, abstractmethod
from dataclasses import dataclass

from drivers.errors import NotUnderstood
from drivers.modbus.modbus_codec import (
    Refusal,
    Registers,
    ascii_content,
    ascii_frame,
    is_reply_pdu,
    is_rtu_sound,
    read_pdu,
    rtu_frame,
    tcp_frame,
    tcp_reply,
)
from drivers.modbus.register_question import RegisterQuestion

MOST_NOISE = 8
"""Bytes of noise that are dropped for one question; more is a wrong baud rate, or a break."""
_GLITCHES = frozenset((0xFF << low_bits) & 0xFF for low_bits in range(9))
"""What a receiver reads where a line is low for some bits and then idle: a driver switched on or
off. The lowest bit comes first, so 00, 80, C0 ... FE, FF."""
_EXCEPTION_BYTES = 5
_LEAST_RTU = 5
_REQUEST_BYTES = 8
_COUNTED = (1, 2, 3, 4, 23)
"""Functions whose replies say how many bytes they have (V1.1b3, 6)."""
_WRITES = (15, 16)
_WRITE_COUNT = 6
"""Where a question that writes several says how many bytes follow."""


@dataclass(frozen=True, slots=True)
class SerialFrame:
    """One whole frame: how many bytes it took, its unit, and what it carries."""

    length: int
    unit: int
    pdu: bytes

    def content(self) -> Registers | Refusal:
        """What it says; raises `NotUnderstood`."""
        return read_pdu(self.pdu)


class SerialFraming(ABC):
    """Frames of one kind."""

    name: str

    @abstractmethod
    def frame(self, question: RegisterQuestion) -> bytes:
        """The question as it is sent."""

    @abstractmethod
    def reply_in(self, data: bytes, question: RegisterQuestion) -> SerialFrame | None:
        """The whole sound reply to a question at the start of the bytes; None where it is not."""

    @abstractmethod
    def any_reply_in(self, data: bytes) -> SerialFrame | None:
        """The whole sound frame of whatever unit at the start of the bytes."""

    @abstractmethod
    def noise_in(self, data: bytes, unit: int) -> int:
        """How many bytes at the start can belong to no frame of the unit."""


class _Rtu(SerialFraming):
    name = "rtu"

    def frame(self, question: RegisterQuestion) -> bytes:
        return rtu_frame(question)

    def reply_in(self, data: bytes, question: RegisterQuestion) -> SerialFrame | None:
        for length in (5 + 2 * question.count, _EXCEPTION_BYTES):
            whole = data[:length]
            if len(whole) == length and is_rtu_sound(whole):
                frame = SerialFrame(length, whole[0], whole[1:-2])
                if is_reply_pdu(question, frame.unit, frame.pdu):
                    return frame
        return None

    def any_reply_in(self, data: bytes) -> SerialFrame | None:
        if len(data) < _LEAST_RTU:
            return None
        # Another master's questions, and the replies that it gets, are frames, too.
        lengths = [_LEAST_RTU, _REQUEST_BYTES]
        if data[1] in _COUNTED:
            lengths.append(_LEAST_RTU + data[2])
        if data[1] in _WRITES and len(data) > _WRITE_COUNT:
            lengths.append(9 + data[_WRITE_COUNT])
        for length in lengths:
            whole = data[:length]
            if len(whole) == length and is_rtu_sound(whole):
                return SerialFrame(length, whole[0], whole[1:-2])
        return None

    def noise_in(self, data: bytes, unit: int) -> int:
        count = 0
        while count < len(data) and data[count] in _GLITCHES and data[count] != unit:
            count += 1
        return count


class _Ascii(SerialFraming):
    name = "ascii"

    def frame(self, question: RegisterQuestion) -> bytes:
        return ascii_frame(question)

    def reply_in(self, data: bytes, question: RegisterQuestion) -> SerialFrame | None:
        frame = self.any_reply_in(data)
        if frame is None or not is_reply_pdu(question, frame.unit, frame.pdu):
            return None
        return frame

    def any_reply_in(self, data: bytes) -> SerialFrame | None:
        end = data.find(b"\n")
        if end < 0:
            return None
        found = ascii_content(data[: end + 1])
        return None if found is None else SerialFrame(end + 1, *found)

    def noise_in(self, data: bytes, unit: int) -> int:
        # V1.02, 2.5.2.1: whatever comes before a colon belongs to no frame.
        start = data.find(b":")
        return len(data) if start < 0 else start


class _Unnumbered(SerialFraming):
    name = "tcp"

    def frame(self, question: RegisterQuestion) -> bytes:
        return tcp_frame(question, 0)

    def reply_in(self, data: bytes, question: RegisterQuestion) -> SerialFrame | None:
        frame = self.any_reply_in(data)
        if frame is None or not is_reply_pdu(question, frame.unit, frame.pdu):
            return None
        return frame

    def any_reply_in(self, data: bytes) -> SerialFrame | None:
        try:
            found = tcp_reply(data)
        except NotUnderstood:
            return None
        if found is None:
            return None
        reply, rest = found
        return SerialFrame(len(data) - len(rest), reply.unit, reply.pdu)

    def noise_in(self, data: bytes, unit: int) -> int:
        return 0


RTU = _Rtu()
ASCII = _Ascii()
UNNUMBERED_TCP = _Unnumbered()
