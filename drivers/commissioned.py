"""How `bathvigil commission` made a description: who, when, with what, from which answers."""

from dataclasses import dataclass
from typing import Annotated, ClassVar, TypeAlias

from annotated_types import MinLen

_Text: TypeAlias = Annotated[str, MinLen(1)]


@dataclass(frozen=True, slots=True)
class Seen:
    """One answer that a description was made from.

    Parameters
    ----------
    asked
        The question, in words.
    raw
        The bytes that came, hexadecimal.
    shown
        What the supply's front panel showed then, such as "12.0 V, 5.01 A"; "" for nothing.
    """

    # What pydantic is to know when it reads one from a file, which must not load it for others.
    __pydantic_config__: ClassVar[dict[str, str]] = {"extra": "forbid"}

    asked: _Text
    raw: _Text
    shown: str = ""


@dataclass(frozen=True, slots=True)
class Commissioned:
    """How `bathvigil commission` made a description.

    Parameters
    ----------
    date
        As 2025-03-04, UTC.
    choice
        What was chosen, and why, in words.
    """

    __pydantic_config__: ClassVar[dict[str, str]] = {"extra": "forbid"}

    operator: _Text
    date: _Text
    program: _Text
    choice: _Text
    seen: tuple[Seen, ...]
