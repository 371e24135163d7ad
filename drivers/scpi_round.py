"""Quantities and registers in, the messages that ask for them out; their answers in, values out.

One message may carry several questions, joined as IEEE 488.2 allows (`MEAS:VOLT?;:MEAS:CURR?`);
its one answer then carries as many values, in that order, between semicolons.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

from drivers.answer import NotUnderstood
from drivers.questions import ScpiQuestion
from drivers.reading import Mode
from drivers.scpi_description import StatusRegister

V_co = TypeVar("V_co", covariant=True)
V = TypeVar("V")

# The bath's own polarisation keeps up to 2.5 V at a dead output (common practice, no source).
DEAD_VOLTS = 3.0
DEAD_AMPS = 0.1
DEAD_SHARE = 0.02


class Asked(Protocol[V_co]):
    """One value that a question asks for."""

    @property
    def question(self) -> ScpiQuestion: ...

    def understand(self, text: str) -> V_co: ...


@dataclass(frozen=True, slots=True)
class Message(Generic[V]):
    """One message and what its answer holds.

    Parameters
    ----------
    question
        As it is sent.
    parts
        The values that the answer carries, in order.
    """

    question: ScpiQuestion
    parts: tuple[Asked[V], ...]

    def understand(self, text: str) -> tuple[V, ...]:
        """The values of one answer; raises `NotUnderstood`."""
        pieces = text.split(";")
        if len(pieces) != len(self.parts):
            raise NotUnderstood(f"{len(pieces)} values where {len(self.parts)} were asked for")
        return tuple(part.understand(piece) for part, piece in zip(self.parts, pieces, strict=True))


def together(parts: Sequence[Asked[V]], ends_with: str) -> tuple[Message[V], ...]:
    """All in one message; none for no parts."""
    if not parts:
        return ()
    texts = [part.question.text for part in parts]
    rest = [text if text.startswith(("*", ":")) else f":{text}" for text in texts[1:]]
    return (Message(ScpiQuestion(";".join([texts[0], *rest]), ends_with), tuple(parts)),)


def apart(parts: Sequence[Asked[V]]) -> tuple[Message[V], ...]:
    """Each in a message of its own."""
    return tuple(Message(part.question, (part,)) for part in parts)


def is_dead(volts: float | None, amps: float | None, rated_amps: float | None) -> bool:
    """True where the output gives nothing, as after a cut-out.

    Examples
    --------
    >>> is_dead(1.9, 0.004, rated_amps=10.0), is_dead(11.8, 0.0, rated_amps=10.0)
    (True, False)
    """
    if volts is None or amps is None:
        return False
    least_amps = DEAD_AMPS if rated_amps is None else DEAD_SHARE * rated_amps
    return volts < DEAD_VOLTS and amps < least_amps


def read_mode(registers: Sequence[StatusRegister], values: Sequence[int], dead: bool) -> Mode:
    """What the registers say that the supply is doing.

    A cut-out is believed only at a dead output, and a regulated one only at a live one: makers
    give the same bits different meanings.
    """
    pairs = list(zip(registers, values, strict=True))
    if dead and any(value & register.cut_out for register, value in pairs):
        return Mode.CUT_OUT
    if any(
        value & register.output_off or (register.is_off_at_zero and value == 0)
        for register, value in pairs
    ):
        return Mode.OUTPUT_OFF
    if not dead and any(value & register.constant_current for register, value in pairs):
        return Mode.CONSTANT_CURRENT
    if any(value & register.constant_voltage for register, value in pairs):
        return Mode.CONSTANT_VOLTAGE
    return Mode.UNKNOWN
