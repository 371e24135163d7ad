"""A question in text, and the ways in which it may end."""

from collections.abc import Iterable
from typing import Literal, Protocol, TypeAlias

End: TypeAlias = Literal["LF", "CR", "CR LF", "none"]
ENDS: dict[str, bytes] = {"LF": b"\n", "CR": b"\r", "CR LF": b"\r\n", "none": b""}
"""How a question may end, by the names that a description uses."""


class TextQuestion(Protocol):
    """One message in text that only asks."""

    @property
    def text(self) -> str:
        """Without its end."""
        ...

    @property
    def wire(self) -> bytes:
        """The bytes as they go out."""
        ...


def wires(questions: Iterable[TextQuestion]) -> frozenset[bytes]:
    """The bytes of all these questions, for an `AskingLink`."""
    return frozenset(question.wire for question in questions)
