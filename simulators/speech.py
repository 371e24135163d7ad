"""How a supply in plain ASCII talks, and how its file is read.

| table | what |
| --- | --- |
| (top) | `title`, how questions and answers end, what it says unasked and how often |
| `[[answer]]` | `ask`, and `say` with places such as `{volts:.2f}` |
| `[status]` | the word for each mode, for the place `{status}` |
"""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal, TypeAlias

from simulators.form import Between, FormError, load_form, names_in, nearest
from simulators.supply import Mode

SPEECHES = Path(__file__).with_name("lines")

Terminator: TypeAlias = Literal["CR", "LF", "CRLF", "none"]
TERMINATORS: dict[str, bytes] = {"CR": b"\r", "LF": b"\n", "CRLF": b"\r\n", "none": b""}
QUANTITIES = ("volts", "amps", "celsius")
PLACES = (*QUANTITIES, "status", "serial", "identity")

_PLACE = re.compile(r"\{(\w+)(?::([^{}]*))?\}")
_FORMAT = re.compile(r"[+ ]?0?\d*\.\d[feE]|0?\d*d?")


@dataclass(frozen=True, slots=True)
class Answer:
    """What is said to one question."""

    ask: str
    say: str


@dataclass(frozen=True, slots=True)
class StatusWords:
    """What is said for each mode."""

    constant_voltage: str = "CV"
    constant_current: str = "CC"
    cut_out: str = "TRIP"
    output_off: str = "OFF"

    def word(self, mode: Mode) -> str:
        """What is said in one mode; the fields have the names of the modes."""
        return str(getattr(self, mode.name.lower()))


@dataclass(frozen=True, slots=True)
class Speech:
    """How one supply talks.

    Parameters
    ----------
    questions_end_with, answers_end_with
        Names of `TERMINATORS`; "none" where only a silence ends them.
    not_understood
        Said to what is no question of its; empty for silence.
    no_value
        Said in the place of a value that there is not.
    unasked, every_s
        Said by itself, and how often; it hears nothing then.
    quiet_s
        The silence that ends a question which ends with nothing else.
    """

    name: str
    title: str
    answers: tuple[Answer, ...] = ()
    questions_end_with: Terminator = "CR"
    answers_end_with: Terminator = "CR"
    not_understood: str = ""
    no_value: str = "---"
    unasked: str = ""
    every_s: Annotated[float, Between(0.01, 3600.0)] | None = None
    quiet_s: Annotated[float, Between(0.001, 1.0)] = 0.02
    status: StatusWords = StatusWords()

    def __post_init__(self) -> None:
        if (self.every_s is None) != (not self.unasked):
            raise FormError("unasked and every_s go together")
        if not self.answers and not self.unasked:
            raise FormError("needs an [[answer]], or something said unasked")
        for say in (*(answer.say for answer in self.answers), self.unasked):
            _check(say)


def places(say: str) -> list[tuple[str, str, str]]:
    """The places of a saying: (as written, name, format)."""
    return [(match[0], match[1], match[2] or "") for match in _PLACE.finditer(say)]


def speech_names() -> list[str]:
    """The speeches that come with the simulator."""
    return names_in(SPEECHES)


def load_speech(name: str) -> Speech:
    """Read a speech that comes with the simulator, or a file of the user's.

    Raises
    ------
    FormError
        With one line that names what is wrong and the cure.

    Examples
    --------
    >>> load_speech("asks-apart").answers[0]
    Answer(ask='V?', say='V={volts:.2f}')
    """
    return load_form(Speech, "speech", name, SPEECHES)


def _check(say: str) -> None:
    for written, place, form in places(say):
        if place not in PLACES:
            raise FormError(f"{written}: there is no {place!r}; {nearest(place, PLACES)}")
        is_number = place in QUANTITIES
        if not _FORMAT.fullmatch(form) or is_number != ("." in form):
            cure = "write it like {volts:.2f}" if is_number else f"write it like {{{place}}}"
            raise FormError(f"{written}: cannot be written so; {cure}")
    if not say.isascii() or "{" in _PLACE.sub("", say):
        raise FormError(f"{say!r}: only ASCII, and braces only around a place")
