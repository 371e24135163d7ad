"""How a supply talks in text, beside its questions and the form of its answers."""

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Extent:
    """How long one answer is.

    Parameters
    ----------
    length
        In bytes, for an answer without an end; None where an end or a silence says so.
    lines
        How many lines it has.
    """

    length: int | None = None
    lines: int = 1


@dataclass(frozen=True, slots=True)
class TalkStyle:
    """How a supply talks, beside the form of its answers.

    Parameters
    ----------
    rest_s
        How long it needs from its last byte to the next question.
    ignored
        Texts around its answers that mean nothing, such as a prompt "> ".
    extents
        How long an answer is, by the text of its question, where no single end says so.
    starts_in_s
        How long it takes from the opening of its port until it answers.
    """

    rest_s: float = 0.0
    ignored: tuple[str, ...] = ()
    extents: Mapping[str, Extent] = field(default_factory=dict)
    starts_in_s: float = 0.0


PLAIN_STYLE = TalkStyle()
"""A supply that needs no rest, and says nothing but its answers."""
