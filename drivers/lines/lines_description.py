"""The description of a supply that speaks plain lines: its questions and its answers."""

import re
from dataclasses import dataclass
from typing import Annotated, Literal, Self, TypeAlias

from annotated_types import Interval
from pydantic import AfterValidator, Field, model_validator

from drivers.base.table import Table, Text, mistake_at, must
from drivers.base.timeout import TimeoutS
from drivers.description import DescriptionFile, Heading, Scale, askable, open_description
from drivers.errors import NotUnderstood
from drivers.lines.line_question import LineQuestion
from drivers.number import Number, reading_of
from drivers.reading import Mode, Reading
from drivers.text.answer import read_number
from drivers.text.text_question import End

QUANTITIES = ("volts", "amps", "celsius")
GROUPS = (*QUANTITIES, "status")
LONGEST_ANSWER = 256
_MODES = {
    "cut_out": Mode.CUT_OUT,
    "constant_current": Mode.CONSTANT_CURRENT,
    "constant_voltage": Mode.CONSTANT_VOLTAGE,
    "output_off": Mode.OUTPUT_OFF,
}


@dataclass(frozen=True, slots=True)
class LineValues:
    """What one answer says: numbers by quantity, and the word for the state."""

    numbers: dict[str, Number]
    status: str | None


@dataclass(frozen=True, slots=True)
class LinePattern:
    """The form of one answer.

    Parameters
    ----------
    pattern
        Matches the whole answer; its groups are named volts, amps, celsius, status.
    scales
        What one step of each quantity is worth in V, A or degrees Celsius.
    has_decimal_comma
        Numbers are written 12,5.
    """

    pattern: re.Pattern[str]
    scales: dict[str, float]
    has_decimal_comma: bool

    @property
    def groups(self) -> frozenset[str]:
        """The names that the answer gives a value to."""
        return frozenset(self.pattern.groupindex)

    def understand(self, text: str) -> LineValues:
        """The values of one answer; raises `NotUnderstood`."""
        match = None if len(text) > LONGEST_ANSWER else self.pattern.fullmatch(text)
        if match is None:
            raise NotUnderstood(f"not of the form {self.pattern.pattern}")
        numbers: dict[str, Number] = {}
        status = None
        for name, group in match.groupdict().items():
            if group is None:
                raise NotUnderstood(f"no {name} in it")
            if name == "status":
                status = group.strip()
            else:
                numbers[name] = self._number(name, group)
        return LineValues(numbers, status)

    def is_cut_unseen(self, text: str) -> bool:
        """Whether a part of this answer, cut short, would pass for a whole one."""
        return any(self.pattern.fullmatch(text[:end]) for end in range(1, len(text)))

    def _number(self, name: str, text: str) -> Number:
        if self.has_decimal_comma:
            if "." in text:
                raise NotUnderstood(f"a point in {text!r} where the decimal sign is a comma")
            text = text.replace(",", ".")
        number = read_number(text)
        if number.value is None:
            return number
        return Number(float(f"{number.value * self.scales.get(name, 1.0):.12g}"))


@dataclass(frozen=True, slots=True)
class LineAsked:
    """One question and the form of its answer; `question` is None for one who speaks unasked."""

    question: LineQuestion | None
    form: LinePattern
    source: str


@dataclass(frozen=True, slots=True)
class LinesDescription:
    """How one model talks.

    Parameters
    ----------
    identity
        The question for who it is; None for none.
    sentinel
        A question that has the same answer each time; the identity where nothing else is named.
    asked
        What is asked at each poll, in order.
    states
        What the words for the state mean.
    idle_s
        The silence that ends an answer; None where it ends in CR or LF.
    every_s
        How often it speaks unasked; None where it is asked.
    """

    heading: Heading
    identity: LineQuestion | None
    sentinel: LineQuestion | None
    asked: tuple[LineAsked, ...]
    states: dict[str, Mode]
    idle_s: float | None
    every_s: float | None
    answer_within_s: float | None
    quiet_s: float

    @property
    def questions(self) -> tuple[LineQuestion, ...]:
        """Every message that the driver can ever send by this description."""
        asked = [each.question for each in self.asked]
        return tuple(each for each in (self.identity, self.sentinel, *asked) if each is not None)

    def reading(self, numbers: dict[str, Number], status: str | None, apart_s: float) -> Reading:
        """What the answers of one poll say together."""
        heading, mode = self.heading, self.states.get(status or "", Mode.UNKNOWN)
        return reading_of(numbers, heading.rated_volts, heading.rated_amps, mode, apart_s)


def load_lines_description(name: str) -> LinesDescription:
    """Read a description of kind "lines".

    Raises
    ------
    BadDescription
        Naming the file and the key.

    Examples
    --------
    >>> supply = load_lines_description("lines-dc-supply")
    >>> [each.question.text for each in supply.asked if each.question]
    ['V?', 'I?']
    """
    file = open_description(name, _File)
    talk = file.talk
    ends_with = "none" if talk.speaks_every_s is not None else talk.question_ends_with
    has_comma = talk.decimal_sign == ","

    def question(table: _Question | None) -> LineQuestion | None:
        return None if table is None else LineQuestion(table.ask, ends_with)

    def asked(table: _Answer) -> LineAsked:
        pattern = re.compile(table.pattern, re.ASCII)
        scales = {
            group: getattr(table, f"{group}_scale")
            for group in QUANTITIES
            if group in pattern.groupindex
        }
        ask = None if table.ask is None else LineQuestion(table.ask, ends_with)
        return LineAsked(ask, LinePattern(pattern, scales, has_comma), table.source)

    status = file.status
    return LinesDescription(
        heading=file.heading(name),
        identity=question(file.identity),
        sentinel=question(file.sentinel or file.identity),
        asked=tuple(asked(table) for table in file.answer),
        states={}
        if status is None
        else {word: mode for key, mode in _MODES.items() for word in getattr(status, key)},
        idle_s=talk.silence_ms / 1000 if talk.answer_ends_with == "silence" else None,
        every_s=talk.speaks_every_s,
        answer_within_s=talk.answer_within_s,
        quiet_s=talk.quiet_ms / 1000,
    )


def _pattern(text: str) -> str:
    try:
        pattern = re.compile(text, re.ASCII)
    except re.error as error:
        raise must(f"is no pattern: {error}") from error
    for group in pattern.groupindex:
        if group not in GROUPS:
            raise must(f"names a group {group!r}; valid: {', '.join(GROUPS)}")
    if not pattern.groupindex:
        raise must("names no group such as (?P<volts>[0-9.]+)")
    return text


class _Talk(Table):
    speaks_every_s: Annotated[float, Interval(ge=0.02, le=60)] | None = None
    question_ends_with: End = "LF"
    answer_ends_with: Literal["line-end", "silence"] = "line-end"
    silence_ms: Annotated[int, Interval(ge=5, le=2000)] = 50
    decimal_sign: Literal[".", ","] = "."
    answer_within_s: TimeoutS | None = None
    quiet_ms: Annotated[int, Interval(ge=1, le=5000)] = 30


_Ask: TypeAlias = Annotated[Text, askable(LineQuestion)]


class _Question(Table):
    ask: _Ask
    source: Text


class _Answer(Table):
    ask: _Ask | None = None
    pattern: Annotated[Text, AfterValidator(_pattern)]
    volts_scale: Scale = 1.0
    amps_scale: Scale = 1.0
    celsius_scale: Scale = 1.0
    source: Text


class _Status(Table):
    cut_out: list[str] = Field(default_factory=list)
    constant_current: list[str] = Field(default_factory=list)
    constant_voltage: list[str] = Field(default_factory=list)
    output_off: list[str] = Field(default_factory=list)
    source: Text


class _File(DescriptionFile):
    kind: Literal["lines"] = "lines"
    talk: _Talk = _Talk()
    identity: _Question | None = None
    sentinel: _Question | None = None
    answer: list[_Answer] = Field(default_factory=list)
    status: _Status | None = None

    @model_validator(mode="after")
    def _is_whole(self) -> Self:
        named = [group for table in self.answer for group in re.compile(table.pattern).groupindex]
        for wanted in ("volts", "amps"):
            if wanted not in named:
                raise must(f"is incomplete: no [[answer]] has a group named {wanted}")
        if twice := {group for group in named if named.count(group) > 1}:
            raise must(f"is wrong: {min(twice)} stands in two [[answer]] tables")
        return self

    @model_validator(mode="after")
    def _asks_or_listens(self) -> Self:
        if self.talk.speaks_every_s is None:
            for number, table in enumerate(self.answer):
                if table.ask is None:
                    raise mistake_at(("answer", number), "ask is missing")
            return self
        for key in ("identity", "sentinel"):
            if getattr(self, key) is not None:
                raise mistake_at((key,), "cannot be asked: the supply speaks unasked")
        if len(self.answer) != 1:
            raise must("is wrong: one that speaks unasked has one [[answer]]")
        if self.answer[0].ask is not None:
            raise mistake_at(("answer", 0, "ask"), "cannot be asked: the supply speaks unasked")
        if "question_ends_with" in self.talk.model_fields_set:
            raise mistake_at(("talk", "question_ends_with"), "the supply speaks unasked")
        return self
