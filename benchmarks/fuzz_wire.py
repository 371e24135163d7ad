"""A link whose far end answers by moves that a fuzzer draws; no time passes.

What was sent as a whole and sound answer is kept, so that a value that nobody sent is found out.
"""

import itertools
import re
import struct
from dataclasses import dataclass, field
from enum import Enum, auto

from hypothesis import strategies as st

from drivers.errors import Reopen
from tests.clock import HandClock

_NUMBER = re.compile(rb"[-+]?[0-9.]+(?:[eE][-+]?[0-9]+)?")
_PLACES = itertools.count()


class Way(Enum):
    """What the other end does with a question."""

    RIGHT = auto()
    RUBBISH = auto()
    CUT = auto()
    NOTHING = auto()
    TWICE = auto()
    RUBBISH_BEHIND = auto()
    RUBBISH_BEFORE = auto()


@dataclass(frozen=True, slots=True)
class Move:
    """One answer: how, with which bytes, and how long after the question."""

    way: Way
    data: bytes
    after_s: float


MOVES = st.lists(
    st.builds(
        Move,
        st.sampled_from([Way.RIGHT, Way.RIGHT, *Way]),
        st.binary(max_size=40),
        st.sampled_from([0.0, 0.0, 0.01, 0.09, 0.11, 0.3]),
    ),
    min_size=1,
    max_size=30,
)


class Answering:
    """Makes a sound answer to a question, out of some bytes; subclasses know a protocol."""

    def sound(self, question: bytes, data: bytes) -> bytes:
        """The answer on the wire."""
        raise NotImplementedError

    def may_say(self, value: float, sent: bytes) -> bool:
        """Whether a value can have come out of everything that was sent."""
        raise NotImplementedError


class Scpi(Answering):
    """Numbers and texts that end in LF (IEEE 488.2-1992, 8.7: response data, from memory)."""

    WORDS = (b"0", b"1", b"9.91E37", b"9.9E37", b'0,"No error"', b'-113,"Undefined header"', b"")

    def sound(self, question: bytes, data: bytes) -> bytes:
        parts = question.strip().split(b";")
        return b";".join(self._one(part, data, n) for n, part in enumerate(parts)) + b"\n"

    def _one(self, part: bytes, data: bytes, number: int) -> bytes:
        if part.upper().startswith(b"*IDN"):
            return b"WORKSHOP,DC-12-10,A0001,1.0"
        if b"ERR" in part.upper():
            return b'0,"No error"'
        seed = data[number] if number < len(data) else 7
        if seed % 8 == 0:
            return self.WORDS[seed // 8 % len(self.WORDS)]
        return b"%.3f" % (seed / 7.0)

    def may_say(self, value: float, sent: bytes) -> bool:
        return any(_equal(number, value) for number in _NUMBER.findall(sent))


class Lines(Scpi):
    """Lines such as the shipped description asks for."""

    def sound(self, question: bytes, data: bytes) -> bytes:
        letter = question.strip()[:1] or b"V"
        seed = data[0] if data else 7
        return b"%b=%.3f\r\n" % (letter, seed / 7.0)


class Rtu(Answering):
    """Modbus over Serial Line V1.02, 2.5.1: unit, function, data, CRC."""

    def sound(self, question: bytes, data: bytes) -> bytes:
        if len(question) < 8:
            return data
        return _framed(question[:1] + self._pdu(question[1:6], data))

    def _pdu(self, asked: bytes, data: bytes) -> bytes:
        """V1.1b3, 6.3 and 7: the registers, or an exception for some data."""
        function, count = asked[0], int.from_bytes(asked[3:5], "big")
        if data[:1] == b"\x00" and len(data) % 2:
            return bytes((function | 0x80, 1 + len(data) % 8))
        registers = (data * (2 * count // max(len(data), 1) + 1) or b"\x40\x40" * count)[
            : 2 * count
        ]
        return bytes((function, len(registers))) + registers

    def may_say(self, value: float, sent: bytes) -> bool:
        return True  # which registers came is checked by the codec's own properties


class Tcp(Rtu):
    """Modbus Messaging on TCP/IP V1.0b, 3.1.3: transaction, protocol, length, unit."""

    def sound(self, question: bytes, data: bytes) -> bytes:
        if len(question) < 12:
            return data
        pdu = self._pdu(question[7:12], data)
        return question[:4] + struct.pack(">H", len(pdu) + 1) + question[6:7] + pdu


def _framed(body: bytes) -> bytes:
    """With the CRC of V1.02, 6.2.2, low byte first."""
    crc = 0xFFFF
    for byte in body:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ 0xA001 if crc & 1 else crc >> 1
    return body + struct.pack("<H", crc)


def _equal(text: bytes, value: float) -> bool:
    try:
        return float(text) == value
    except ValueError:
        return False


@dataclass
class DrawnLink:
    """A link whose other end answers by moves, the same ones over and over."""

    moves: list[Move]
    answering: Answering
    clock: HandClock
    sent: bytearray = field(default_factory=bytearray)
    asked: list[bytes] = field(default_factory=list)
    _coming: list[tuple[int, bytes]] = field(default_factory=list)
    _is_open: bool = False
    _name: str = ""

    @property
    def place(self) -> str:
        if not self._name:
            self._name = f"drawn {next(_PLACES)}"
        return self._name

    @property
    def is_open(self) -> bool:
        """Whether the driver has it open."""
        return self._is_open

    def open(self, deadline_ns: int) -> None:
        self._is_open = True

    def close(self) -> None:
        self._is_open = False
        self._coming.clear()

    def write(self, data: bytes, deadline_ns: int) -> None:
        if not self._is_open:
            raise Reopen("drawn: not open")
        move = self.moves[len(self.asked) % len(self.moves)]
        self.asked.append(bytes(data))
        answer = self._answer(move, bytes(data))
        if answer:
            self.sent += answer + b" "
            at_ns = self.clock.now_ns + int(move.after_s * 1e9)
            self._coming.append((max([at_ns, *(due_ns for due_ns, _ in self._coming)]), answer))

    def read(self, deadline_ns: int) -> bytes:
        if not self._is_open:
            raise Reopen("drawn: not open")
        if self._coming and self._coming[0][0] <= max(self.clock.now_ns, deadline_ns):
            at_ns, data = self._coming.pop(0)
            self.clock.now_ns = max(self.clock.now_ns, at_ns)
            return data
        self.clock.now_ns = max(self.clock.now_ns, deadline_ns)
        return b""

    def _answer(self, move: Move, question: bytes) -> bytes:
        sound = self.answering.sound(question, move.data)
        match move.way:
            case Way.RIGHT:
                return sound
            case Way.RUBBISH:
                return move.data
            case Way.CUT:
                return sound[: len(move.data) % (len(sound) + 1)]
            case Way.NOTHING:
                return b""
            case Way.TWICE:
                return sound + sound
            case Way.RUBBISH_BEHIND:
                return sound + move.data
            case Way.RUBBISH_BEFORE:
                return move.data + sound
