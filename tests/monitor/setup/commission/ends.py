"""Scripted other ends for setting up: one that minds its endings, and a table of registers."""

import struct
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from tests.drivers.fake_supply import EVERY_SUPPLY, FakeSupply
from tests.drivers.spoiling import Piece

EVERY_TABLE: list["RegisterSupply"] = []
"""All that were made in the running test: the list of what was sent is checked after it."""


@dataclass
class MindingSupply(FakeSupply):
    """Understands a question only with its own ending; answers with another.

    Parameters
    ----------
    asked_with, answered_with
        The ending bytes; b"" takes whatever comes at once, and answers without an end.
    answers
        What it says to what; a question that is not there gets `otherwise`.
    """

    asked_with: bytes = b"\n"
    answered_with: bytes = b"\n"
    answers: Mapping[str, str] = field(default_factory=lambda: {"*IDN?": "WORKSHOP,DC,7,1"})
    otherwise: str = ""
    wait_s: float = 0.01
    is_echoing: bool = False

    def receive(self, data: bytes) -> list[Piece]:
        """Take bytes as they come."""
        echo = [Piece(0.0, data)] if self.is_echoing else []
        self.unfinished += data
        if self.asked_with == b"":
            messages, self.unfinished = [self.unfinished], b""
        else:
            *messages, self.unfinished = self.unfinished.split(self.asked_with)
        said = [self._say(message) for message in messages]
        return echo + [Piece(self.wait_s, one + self.answered_with) for one in said if one]

    def _say(self, message: bytes) -> bytes:
        self.received.append(message)
        text = message.decode("latin-1")
        if self.asked_with == b"":
            text = text.rstrip("\r\n")
        return self.answers.get(text, self.otherwise).encode("latin-1")


@dataclass
class RegisterSupply(FakeSupply):
    """Answers functions 3 and 4 on a serial line; written from V1.1b3, 6.3, 6.4 and 7.

    Parameters
    ----------
    holding, inputs
        Its registers; what is not there is refused with exception 2.
    """

    unit: int = 1
    holding: dict[int, int] = field(default_factory=dict)
    inputs: dict[int, int] = field(default_factory=dict)
    most: int = 125

    def __post_init__(self) -> None:
        super().__post_init__()
        EVERY_SUPPLY.pop()  # it does not speak SCPI
        EVERY_TABLE.append(self)

    def is_question(self, message: bytes) -> bool:
        """V1.1b3, 6.3 and 6.4, to one unit: V1.02, 2.2."""
        return message[0] != 0 and message[1] in (3, 4) and message[-2:] == crc(message[:-2])

    def receive(self, data: bytes) -> list[Piece]:
        """Take bytes as they come: frames of eight."""
        self.unfinished += data
        pieces = []
        while len(self.unfinished) >= 8:
            frame, self.unfinished = self.unfinished[:8], self.unfinished[8:]
            self.received.append(frame)
            unit, function, address, count = struct.unpack(">BBHH", frame[:6])
            assert crc(frame[:6]) == frame[6:]
            assert function in (3, 4), "only questions"
            if unit == self.unit:
                pieces.append(Piece(0.001, self._reply(function, address, count)))
        return pieces

    def _reply(self, function: int, address: int, count: int) -> bytes:
        table = self.holding if function == 3 else self.inputs
        places = range(address, address + count)
        if count > self.most or any(place not in table for place in places):
            body = bytes((self.unit, function | 0x80, 2))
        else:
            words = struct.pack(f">{count}H", *(table[place] for place in places))
            body = bytes((self.unit, function, len(words))) + words
        return body + crc(body)


def crc(data: bytes) -> bytes:
    """The check sum of MODBUS over Serial Line V1.02, 6.2.2, low byte first."""
    value = 0xFFFF
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ (0xA001 if value & 1 else 0)
    return value.to_bytes(2, "little")


def lines_supply(
    asked_with: bytes, answered_with: bytes
) -> tuple[MindingSupply, Callable[[str, str], None]]:
    """A supply that answers V? and I? in plain lines, and the knobs that turn its panel."""
    answers: dict[str, str] = {"SN": "PS-0042"}
    supply = MindingSupply(asked_with=asked_with, answered_with=answered_with, answers=answers)

    def turn(volts: str, amps: str) -> None:
        answers["V?"] = f"V={float(volts):05.2f}"
        answers["I?"] = f"I={float(amps):.3f}A CV"

    turn("1.00", "1.00")
    return supply, turn
