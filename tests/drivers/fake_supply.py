"""A scripted supply for these tests: it answers as scripted and keeps what it was asked.

Written from IEEE 488.2-1992 and SCPI-1999 (from memory), never from our driver: a message ends
in LF; its parts stand between semicolons; a query's header ends in "?"; the answers of one message
stand between semicolons; an error goes to a queue of which SYSTem:ERRor? takes the oldest entry.
Every value is different from every other one, so that a test can tell to which question it belongs.
"""

import re
from collections import deque
from dataclasses import dataclass

from drivers.promises import Given
from tests.drivers.spoiling import Piece, Spoiling

IDENTITY = "WORKSHOP,DC-12-10,A0001,1.0"
NO_ERROR = '0,"No error"'
QUESTION = re.compile(
    rb":?(?:\*[A-Z]{3}|[A-Z]+(?::[A-Z]+)*)\?(?:;:?(?:\*[A-Z]{3}|[A-Z]+(?::[A-Z]+)*)\?)*"
)
"""A message of nothing but queries without parameters (IEEE 488.2-1992, 7.3 and 7.6)."""

EVERY_SUPPLY: list["FakeSupply"] = []
"""All that were made in the running test: the list of what was sent is checked after it."""


@dataclass
class FakeSupply(Spoiling):
    """One supply.

    Parameters
    ----------
    joins
        Whether it answers several questions in one message.
    lacks
        Headers of questions that it does not know, besides those nobody knows.
    ends_with
        What ends each answer.
    """

    identity: str = IDENTITY
    joins: bool = True
    lacks: frozenset[str] = frozenset()
    ends_with: bytes = b"\n"
    volts: str | None = None
    amps: str | None = None
    questionable: int = 0
    operation: int = 0x100
    output: str = "1"

    def __post_init__(self) -> None:
        super().__post_init__()
        self.errors: deque[str] = deque()
        EVERY_SUPPLY.append(self)

    def receive(self, data: bytes) -> list[Piece]:
        """Take bytes as they come; what is to be sent for the messages that they complete."""
        *messages, self.unfinished = re.split(rb"[\r\n]", self.unfinished + data)
        pieces: list[Piece] = []
        for message in messages:
            if message:
                self.received.append(message)
                pieces += self.answer(message)
        return pieces

    def answer(self, message: bytes) -> list[Piece]:
        parts = message.decode("ascii").split(";")
        if len(parts) > 1 and not self.joins:
            self.errors.append('-113,"Undefined header"')
            return []
        answers = [answer for part in parts if (answer := self.one(part)) is not None]
        if not answers:
            return []
        return self.spoil(";".join(answers).encode("latin-1") + self.ends_with)

    def one(self, part: str) -> str | None:
        header = part.lstrip(":")
        if header in self.lacks:
            self.errors.append('-113,"Undefined header"')
            return None
        match header:
            case "*IDN?":
                return self.identity
            case "MEAS:VOLT?":
                return self.volts if self.volts is not None else self.tagged("volts", 6.0)
            case "MEAS:CURR?":
                return self.amps if self.amps is not None else self.tagged("amps", 2000.0)
            case "MEAS:TEMP?":
                return self.tagged("celsius", -4000.0)
            case "STAT:QUES:COND?":
                return str(self.questionable)
            case "STAT:OPER:COND?":
                return f"+{self.operation}"
            case "OUTP?":
                return self.output
            case "SYST:VERS?":
                return "1999.0"
            case "SYST:ERR?":
                return self.errors.popleft() if self.errors else NO_ERROR
            case _:
                self.errors.append('-113,"Undefined header"')
                return None

    def tagged(self, quantity: str, start: float) -> str:
        value = round(start + (len(self.given) + 1) / 1000, 3)
        self.given.append(Given(quantity, value))
        return f"{value:.3f}"

    def is_question(self, message: bytes) -> bool:
        return QUESTION.fullmatch(message) is not None
