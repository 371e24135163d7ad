"""A conversation with scripted units, by a clock that only moves when somebody waits."""

from collections.abc import Sequence
from dataclasses import dataclass

from drivers.link.shared_link import SharedLink
from drivers.modbus.modbus_rtu import RtuConversation
from drivers.modbus.modbus_tcp import TcpConversation
from drivers.modbus.register_question import RegisterQuestion
from tests.clock import HandClock
from tests.drivers.fake_link import FakeLink
from tests.drivers.fake_registers import FakeRegisters
from tests.drivers.spoiling import Piece

TIMEOUT_S = 0.1
QUIET_S = 0.01
VALUES = RegisterQuestion(1, 3, 0, 7)
IDENTITY = RegisterQuestion(1, 3, 100, 2)
HELD = (1, 7)
"""What the identity of a `FakeRegisters` holds."""


class NamedLink(FakeLink):
    """A link with a place of its own, so that no two tests share a line."""

    @property
    def place(self) -> str:
        return f"fake {id(self)}"


@dataclass
class Talk:
    """One conversation and what is behind it."""

    unit: FakeRegisters
    clock: HandClock
    wire: NamedLink
    line: SharedLink

    def come(self, data: bytes, after_s: float = 0.0) -> None:
        """Let bytes come that nobody asked for."""
        self.wire.send(Piece(after_s, data))

    def elapsed_s(self, since_ns: int) -> float:
        return (self.clock.now_ns - since_ns) / 1e9


def talk(unit: FakeRegisters, wire: NamedLink | None = None, gap_s: float = 0.004) -> Talk:
    clock = wire.clock if wire is not None else HandClock()
    wire = wire or NamedLink(unit, clock)
    line = SharedLink(wire, clock, gap_s, 0.0, "9600 baud 8E1")
    line.open(clock.now_ns + 10**9)
    return Talk(unit, clock, wire, line)


def rtu(on: Talk, questions: Sequence[RegisterQuestion] = (IDENTITY, VALUES)) -> RtuConversation:
    conversation = RtuConversation(
        on.line, questions, questions[0], on.clock, TIMEOUT_S, QUIET_S, "modbus:fake"
    )
    conversation.begin(1e6)
    return conversation


def tcp(on: Talk, questions: Sequence[RegisterQuestion] = (IDENTITY, VALUES)) -> TcpConversation:
    conversation = TcpConversation(
        on.line, questions, questions[0], on.clock, TIMEOUT_S, "modbus:tcp://fake"
    )
    conversation.begin(1e6)
    return conversation
