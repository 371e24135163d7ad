"""Messages that ask for one or more values, and what their answers hold.

One message may carry several questions, joined as IEEE 488.2 allows (`MEAS:VOLT?;:MEAS:CURR?`);
its one answer then carries as many values, in that order, between semicolons.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

from drivers.errors import NotUnderstood
from drivers.text.scpi_question import ScpiQuestion

V_co = TypeVar("V_co", covariant=True)
V = TypeVar("V")


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
