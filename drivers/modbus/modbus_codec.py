"""The Modbus codec: questions to frames, frames to replies. It opens no port.

The only file that imports `pymodbus`, whose framers and PDUs are the codec; its clients are not
used, since over a serial line they take a late reply for the next answer. Its decoder is given
the two functions that read, so nothing else can be made of a frame, and there is no way from here
to one that writes.
"""

import logging
from dataclasses import dataclass
from typing import ClassVar

from pymodbus.exceptions import ModbusException
from pymodbus.framer import FramerAscii, FramerRTU, FramerSocket
from pymodbus.pdu import DecodePDU, ExceptionResponse, ModbusPDU
from pymodbus.pdu.register_message import (
    ReadHoldingRegistersRequest,
    ReadHoldingRegistersResponse,
    ReadInputRegistersRequest,
    ReadInputRegistersResponse,
)

from drivers.errors import NotUnderstood, QuestionRefused
from drivers.modbus.register_question import RegisterQuestion

# What the library has to say comes as our own errors; it must never write over a screen.
_LOGGER = logging.getLogger("pymodbus")
_LOGGER.addHandler(logging.NullHandler())
_LOGGER.propagate = False

_REQUESTS: dict[int, type[ReadHoldingRegistersRequest]] = {
    3: ReadHoldingRegistersRequest,
    4: ReadInputRegistersRequest,
}
RTU_AROUND_BYTES = 5
"""Unit, function, byte count, and two of check sum."""
MBAP_BYTES = 7
_LONGEST_TCP = 254


@dataclass(frozen=True, slots=True)
class Registers:
    """A good reply."""

    values: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Refusal:
    """An exception reply; `code` as in V1.1b3, 7."""

    code: int


@dataclass(frozen=True, slots=True)
class TcpReply:
    """A whole reply on TCP, still to be held against its question."""

    transaction: int
    unit: int
    pdu: bytes


class _ReadingDecoder(DecodePDU):
    """Knows the replies of the two functions that read, and no other."""

    pdu_table: ClassVar[dict[int, tuple[type[ModbusPDU], type[ModbusPDU]]]] = {  # type: ignore[misc]  # the base forgot to say that its table is the class's
        3: (ReadHoldingRegistersRequest, ReadHoldingRegistersResponse),
        4: (ReadInputRegistersRequest, ReadInputRegistersResponse),
    }


_DECODER = _ReadingDecoder(is_server=False)
_RTU = FramerRTU(_DECODER)
_ASCII = FramerAscii(_DECODER)
_TCP = FramerSocket(_DECODER)


def rtu_frame(question: RegisterQuestion) -> bytes:
    """The question as it goes on a serial line.

    Examples
    --------
    >>> rtu_frame(RegisterQuestion(17, 3, 107, 3)).hex(" ").upper()
    '11 03 00 6B 00 03 76 87'
    """
    return _RTU.buildFrame(_request(_not_to_all(question), 0))


def ascii_frame(question: RegisterQuestion) -> bytes:
    """The question as it goes on a serial line in characters (V1.02, 2.5.2).

    Examples
    --------
    >>> ascii_frame(RegisterQuestion(17, 3, 107, 3))
    b':1103006B00037E\\r\\n'
    """
    return _ASCII.buildFrame(_request(_not_to_all(question), 0))


def ascii_content(frame: bytes) -> tuple[int, bytes] | None:
    """Unit and content of one whole line from ":" to the line feed; None where it is not sound.

    A colon begins a frame anew (V1.02, 2.5.2.1): what stands before the last one is left out.

    Examples
    --------
    >>> ascii_content(b":1103:11030276FB79\\r\\n")
    (17, b'\\x03\\x02v\\xfb')
    >>> ascii_content(b":\\x0f:\\r\\n") is None
    True
    """
    line = frame[max(frame.rfind(b":"), 0) :].rstrip(b"\r\n")
    try:
        used, unit, _, pdu = _ASCII.decode(line + b"\r\n")
    except ValueError:  # pymodbus 3 takes the first two characters for digits, whatever they are
        return None
    return (unit, pdu) if used and pdu else None


def tcp_frame(question: RegisterQuestion, transaction: int) -> bytes:
    """The question as it goes on TCP, under a number of its own from 0 to 65535.

    Examples
    --------
    >>> tcp_frame(RegisterQuestion(255, 3, 4, 1), transaction=1).hex(" ")
    '00 01 00 00 00 06 ff 03 00 04 00 01'
    """
    return _TCP.buildFrame(_request(question, transaction))


def is_rtu_sound(frame: bytes) -> bool:
    """Whether the check sum of a whole frame is right (V1.02, 6.2.2).

    Examples
    --------
    >>> is_rtu_sound(bytes.fromhex("02 07 41 12"))
    True
    """
    return len(frame) >= 4 and FramerRTU.check_CRC(frame[:-2], int.from_bytes(frame[-2:], "big"))


def rtu_length(question: RegisterQuestion) -> int:
    """How many bytes the good reply to a question has on a serial line."""
    return RTU_AROUND_BYTES + 2 * question.count


def is_rtu_reply(question: RegisterQuestion, frame: bytes) -> bool:
    """Whether a whole frame can be the reply to a question: unit, function, length, check sum."""
    return is_rtu_sound(frame) and is_reply_pdu(question, frame[0], frame[1:-2])


def is_reply_pdu(question: RegisterQuestion, unit: int, pdu: bytes) -> bool:
    """Whether what a unit sent can be the reply to a question: unit, function, length."""
    if unit != question.unit:
        return False
    if len(pdu) == 2 and pdu[0] == question.function | 0x80:
        return True
    return pdu[:2] == bytes((question.function, 2 * question.count)) and (
        len(pdu) == 2 + 2 * question.count
    )


def read_rtu(frame: bytes) -> Registers | Refusal:
    """What a whole, sound frame carries; raises `NotUnderstood`."""
    return read_pdu(frame[1:-2])


def tcp_reply(data: bytes) -> tuple[TcpReply, bytes] | None:
    """The first whole reply in what came on TCP, and what stands behind it; None to wait.

    Raises
    ------
    NotUnderstood
        Where it cannot be the beginning of a frame: nothing behind it can be trusted either.
    """
    if len(data) < MBAP_BYTES:
        return None
    length = int.from_bytes(data[4:6], "big")
    if data[2:4] != b"\0\0" or not 2 <= length <= _LONGEST_TCP:
        raise NotUnderstood("no header of Modbus/TCP")
    whole = MBAP_BYTES - 1 + length
    if len(data) < whole:
        return None
    # Handed over cut to size: with a byte behind it the framer reaches too far.
    used, unit, transaction, pdu = _TCP.decode(data[:whole])
    if used != whole:
        raise NotUnderstood("not a whole frame of Modbus/TCP")
    return TcpReply(transaction, unit, pdu), data[whole:]


def read_tcp(question: RegisterQuestion, reply: TcpReply) -> Registers | Refusal:
    """What a reply to this question carries.

    Raises
    ------
    NotUnderstood
        Where unit, function or length are not those that were asked for.
    """
    if reply.unit != question.unit:
        raise NotUnderstood(f"unit {reply.unit} answers instead of unit {question.unit}")
    function = reply.pdu[0]
    if function & 0x7F != question.function:
        raise NotUnderstood(f"the reply is to function {function}, not {question.function}")
    if function & 0x80:
        if len(reply.pdu) != 2:
            raise NotUnderstood("an exception of another length")
    elif len(reply.pdu) != 2 + 2 * question.count or reply.pdu[1] != 2 * question.count:
        raise NotUnderstood(f"a reply of {len(reply.pdu)} bytes to {question.count} registers")
    return read_pdu(reply.pdu)


def _not_to_all(question: RegisterQuestion) -> RegisterQuestion:
    # V1.02, 2.2: on a serial line 0 is the broadcast.
    if question.unit == 0:
        raise QuestionRefused("unit 0 cannot be asked: it addresses all units on a serial line")
    return question


def _request(question: RegisterQuestion, transaction: int) -> ModbusPDU:
    return _REQUESTS[question.function](
        dev_id=question.unit,
        transaction_id=transaction,
        address=question.address,
        count=question.count,
    )


def read_pdu(pdu: bytes) -> Registers | Refusal:
    """What a reply carries; raises `NotUnderstood`."""
    # The library fails in three ways: an exception, nothing, or a reply that is an error.
    try:
        reply = _DECODER.decode(pdu)
    except ModbusException as error:
        raise NotUnderstood(str(error)) from error
    if reply is None:
        raise NotUnderstood("not a reply to a question for registers")
    if isinstance(reply, ExceptionResponse):
        return Refusal(reply.exception_code)
    if reply.isError():
        raise NotUnderstood("an error of no known kind")
    return Registers(tuple(reply.registers))
