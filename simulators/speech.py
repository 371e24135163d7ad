"""A speech's name or a TOML file in, a checked `Speech` out: how a plain-ASCII supply talks.

| table | what |
| --- | --- |
| (top) | `title`, how questions and answers end, what it says unasked and how often |
| `[[answer]]` | `ask`, and `say` with places such as `{volts:.2f}` |
| `[status]` | the word for each mode, for the place `{status}` |
"""

import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal, TypeAlias

from simulators.form import Between, FormError, fill_in, nearest

SPEECHES = Path(__file__).with_name("lines")

Terminator: TypeAlias = Literal["CR", "LF", "CRLF", "none"]
TERMINATORS: dict[str, bytes] = {"CR": b"\r", "LF": b"\n", "CRLF": b"\r\n", "none": b""}
QUANTITIES = ("volts", "amps", "celsius")
PLACES = (*QUANTITIES, "status", "serial", "identity")

_PLACE = re.compile(r"\{(\w+)(?::([^{}]*))?\}")
_FORMAT = re.compile(r"[+ ]?0?\d*\.\d[feE]|0?\d*d?")


class SpeechError(Exception):
    """A speech that cannot be used; the message is one line and names the cure."""


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


@dataclass(frozen=True, slots=True)
class _Head:
    title: str
    questions_end_with: Terminator = "CR"
    answers_end_with: Terminator = "CR"
    not_understood: str = ""
    no_value: str = "---"
    unasked: str = ""
    every_s: Annotated[float, Between(0.01, 3600.0)] | None = None
    quiet_s: Annotated[float, Between(0.001, 1.0)] = 0.02


@dataclass(frozen=True, slots=True)
class Speech:
    """How one supply talks.

    Parameters
    ----------
    questions_end_with, answers_end_with
        `b""` where only a silence ends them.
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
    answers: dict[str, str]
    questions_end_with: bytes = b"\r"
    answers_end_with: bytes = b"\r"
    not_understood: str = ""
    no_value: str = "---"
    unasked: str = ""
    every_s: float | None = None
    quiet_s: float = 0.02
    status: StatusWords = StatusWords()


def places(say: str) -> list[tuple[str, str, str]]:
    """The places of a saying: (as written, name, format)."""
    return [(found[0], found[1], found[2] or "") for found in _PLACE.finditer(say)]


def speech_names() -> list[str]:
    """The speeches that come with the simulator."""
    return sorted(path.stem for path in SPEECHES.glob("*.toml"))


def load_speech(name: str) -> Speech:
    """Read a speech that comes with the simulator, or a file of the user's.

    Raises
    ------
    SpeechError
        With one line that names what is wrong and the cure.

    Examples
    --------
    >>> load_speech("asks-apart").answers["V?"]
    'V={volts:.2f}'
    """
    path = SPEECHES / f"{name}.toml"
    if name not in speech_names():
        path = Path(name)
        if path.suffix != ".toml":
            raise SpeechError(f"there is no speech {name!r}; {nearest(name, speech_names())}")
    try:
        return parse_speech(path.read_text(encoding="utf-8"), path.stem)
    except (OSError, UnicodeDecodeError) as error:
        raise SpeechError(f"cannot read the speech {name}: {error}") from error


def parse_speech(text: str, name: str) -> Speech:
    """Read a speech from the text of its file; raises as `load_speech` does."""
    try:
        return _speech(tomllib.loads(text), name)
    except tomllib.TOMLDecodeError as error:
        raise SpeechError(f"speech {name}: not TOML: {error}") from error
    except FormError as error:
        raise SpeechError(f"speech {name}: {error}") from error


def _speech(tables: dict[str, object], name: str) -> Speech:
    rest = dict(tables)
    found, status = rest.pop("answer", []), rest.pop("status", {})
    if not isinstance(found, list) or not all(isinstance(table, dict) for table in found):
        raise FormError("answer: write each one as [[answer]]")
    if not isinstance(status, dict):
        raise FormError("status: write it as a table [status]")
    head = fill_in(_Head, rest, "at the top")
    answers = [fill_in(Answer, table, "[[answer]]") for table in found]
    if (head.every_s is None) != (not head.unasked):
        raise FormError("unasked and every_s go together")
    if not answers and not head.unasked:
        raise FormError("needs an [[answer]], or something said unasked")
    for say in (*(answer.say for answer in answers), head.unasked):
        _check(say)
    return Speech(
        name=name,
        title=head.title,
        answers={answer.ask: answer.say for answer in answers},
        questions_end_with=TERMINATORS[head.questions_end_with],
        answers_end_with=TERMINATORS[head.answers_end_with],
        not_understood=head.not_understood,
        no_value=head.no_value,
        unasked=head.unasked,
        every_s=head.every_s,
        quiet_s=head.quiet_s,
        status=fill_in(StatusWords, status, "[status]"),
    )


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
