"""A scripted supply with a plain line protocol of these tests' own; every value is different."""

import re
from dataclasses import dataclass

from drivers.promises import Given
from tests.drivers.fake_supply import FakeSupply
from tests.drivers.spoiling import Piece

PAIR = r"""
format = 1
kind = "lines"
title = "pair in one answer"
source = "invented"
[talk]
question_ends_with = "CR"
[identity]
ask = "SN"
source = "invented"
[[answer]]
ask = "READ"
pattern = '(?P<volts>[0-9.]+) V, (?P<amps>[0-9.]+) A, (?P<status>[A-Z]+)'
source = "invented"
[status]
cut_out = ["TRIP"]
constant_voltage = ["CV"]
source = "invented"
"""

APART = r"""
format = 1
kind = "lines"
title = "asked apart, without a sentinel"
source = "invented"
[talk]
question_ends_with = "CR"
[[answer]]
ask = "V?"
pattern = 'V=(?P<volts>[0-9.]+)'
source = "invented"
[[answer]]
ask = "I?"
pattern = 'I=(?P<amps>[0-9.]+)A'
source = "invented"
"""

SILENT_END = r"""
format = 1
kind = "lines"
title = "ends with nothing but a silence"
source = "invented"
[talk]
question_ends_with = "none"
answer_ends_with = "silence"
silence_ms = 10
[identity]
ask = "SN"
source = "invented"
[[answer]]
ask = "V?"
pattern = 'V=(?P<volts>[0-9.]+)V'
source = "invented"
[[answer]]
ask = "I?"
pattern = 'I=(?P<amps>[0-9.]+)A'
source = "invented"
"""

QUESTION = re.compile(rb"SN|READ|V\?|I\?")


@dataclass
class FakeSpeaker(FakeSupply):
    """Answers SN, READ, V? and I?.

    Parameters
    ----------
    hears_ends
        False where a question ends with nothing but a silence.
    """

    hears_ends: bool = True
    state: str = "CV"

    def receive(self, data: bytes) -> list[Piece]:
        if self.hears_ends:
            return super().receive(data)
        self.received.append(data)
        return self.answer(data)

    def one(self, part: str) -> str | None:
        match part:
            case "SN":
                return "SN 000042"
            case "READ":
                volts, amps = self.tagged("volts", 6.0), self.tagged("amps", 2000.0)
                return f"{volts} V, {amps} A, {self.state}"
            case "V?":
                end = "" if self.hears_ends else "V"
                return f"V={self.tagged('volts', 6.0)}{end}"
            case "I?":
                return f"I={self.tagged('amps', 2000.0)}A"
        return "?"

    def is_question(self, message: bytes) -> bool:
        return QUESTION.fullmatch(message) is not None

    @property
    def newest(self) -> dict[str, Given]:
        """The newest value of each quantity."""
        return {given.quantity: given for given in self.given}
