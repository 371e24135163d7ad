"""The description of a supply that speaks plain lines: its questions and its answers."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from typing import Annotated, Any, Literal, Self, TypeAlias

from annotated_types import Interval
from pydantic import AfterValidator, Field, model_validator

from drivers.base.table import Table, Text, mistake_at, must
from drivers.base.timeout import TimeoutS
from drivers.description import DescriptionFile, Heading, Scale, askable, open_description
from drivers.errors import QuestionRefused
from drivers.lines.answer_form import (
    GROUPS,
    LONGEST_OBJECT,
    QUANTITIES,
    STATUS,
    AnswerForm,
    Columns,
    JsonKeys,
    LinePattern,
    Writing,
)
from drivers.lines.line_question import LineQuestion
from drivers.number import Number, reading_of
from drivers.reading import Mode, Reading
from drivers.text.talk_style import PLAIN_STYLE, Extent, TalkStyle
from drivers.text.talk_table import TalkStyleTable
from drivers.text.text_question import End

_MODES = {
    "cut_out": Mode.CUT_OUT,
    "constant_current": Mode.CONSTANT_CURRENT,
    "constant_voltage": Mode.CONSTANT_VOLTAGE,
    "output_off": Mode.OUTPUT_OFF,
}


@dataclass(frozen=True, slots=True)
class LineAsked:
    """One question and the form of its answer; `question` is None for one who speaks unasked."""

    question: LineQuestion | None
    form: AnswerForm
    source: str
    lines: int = 1


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
        The silence that ends an answer; None where it ends in CR or LF, or by its length.
    style
        What else there is to know of how it talks.
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
    style: TalkStyle = PLAIN_STYLE

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
        if table is None:
            return None
        return LineQuestion(table.ask, ends_with, table.i_have_checked)

    def asked(table: _Answer) -> LineAsked:
        ask = (
            None if table.ask is None else LineQuestion(table.ask, ends_with, table.i_have_checked)
        )
        return LineAsked(ask, table.form(has_comma), table.source, table.lines)

    extents = {
        table.ask: table.extent
        for table in (file.identity, file.sentinel, *file.answer)
        if table is not None and table.ask is not None and table.extent != Extent()
    }
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
        style=talk.style(extents),
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


def _pointer(text: str) -> str:
    if not text.startswith("/") or text == "/":
        raise must("must be a JSON pointer, as in /out/volts")
    return text


class _Talk(TalkStyleTable):
    speaks_every_s: Annotated[float, Interval(ge=0.02, le=60)] | None = None
    question_ends_with: End = "LF"
    answer_ends_with: Literal["line-end", "silence", "length"] = "line-end"
    silence_ms: Annotated[int, Interval(ge=5, le=2000)] = 50
    decimal_sign: Literal[".", ","] = "."
    answer_within_s: TimeoutS | None = None
    quiet_ms: Annotated[int, Interval(ge=1, le=5000)] = 30


_Ask: TypeAlias = Annotated[Text, askable(partial(LineQuestion, i_have_checked=True))]


class _Long(Table):
    length: Annotated[int, Interval(ge=1, le=LONGEST_OBJECT)] | None = None
    lines: Annotated[int, Interval(ge=1, le=16)] = 1

    @property
    def extent(self) -> Extent:
        return Extent(self.length, self.lines)


class _Asking(_Long):
    i_have_checked: bool = False

    @model_validator(mode="after")
    def _is_known_to_ask(self) -> Self:
        text = getattr(self, "ask", None)
        if text is not None:
            try:
                LineQuestion(text, i_have_checked=self.i_have_checked)
            except QuestionRefused as error:
                raise mistake_at(("ask",), f"cannot be asked: {error}") from error
        return self


class _Question(_Asking):
    ask: _Ask
    source: Text


_Pointer: TypeAlias = Annotated[str, AfterValidator(_pointer)]
_Place: TypeAlias = Annotated[int, Interval(ge=1, le=200)]


class _Keys(Table):
    volts: _Pointer | None = None
    amps: _Pointer | None = None
    celsius: _Pointer | None = None
    status: _Pointer | None = None


class _Columns(Table):
    separator: Literal[",", ";", "\t", "|", "/", ":", " "] = ","
    count: _Place
    volts: _Place | None = None
    amps: _Place | None = None
    celsius: _Place | None = None
    status: _Place | None = None

    @model_validator(mode="after")
    def _are_there(self) -> Self:
        for name, place in _given(self).items():
            if place > self.count:
                raise mistake_at((name,), f"must be at most count, which is {self.count}")
        return self


def _given(table: _Keys | _Columns) -> dict[str, Any]:
    """The places that a table names, by the quantity or "status"."""
    values = {name: getattr(table, name) for name in (*QUANTITIES, STATUS)}
    return {name: value for name, value in values.items() if value is not None}


class _Answer(_Asking):
    ask: _Ask | None = None
    pattern: Annotated[Text, AfterValidator(_pattern)] | None = None
    keys: _Keys | None = None
    columns: _Columns | None = None
    number_base: Literal[10, 16] = 10
    volts_scale: Scale = 1.0
    amps_scale: Scale = 1.0
    celsius_scale: Scale = 1.0
    source: Text

    def form(self, has_decimal_comma: bool) -> AnswerForm:
        """Where its values stand, and how they are written."""
        scales = {name: getattr(self, f"{name}_scale") for name in QUANTITIES}
        writing = Writing(scales, has_decimal_comma, self.number_base == 16)
        if self.keys is not None:
            return JsonKeys(_given(self.keys), writing)
        if self.columns is not None:
            columns = self.columns
            return Columns(columns.separator, columns.count, _given(columns), writing)
        assert self.pattern is not None, "the table's own rule"
        return LinePattern(re.compile(self.pattern, re.ASCII), writing)

    @model_validator(mode="after")
    def _has_one_form(self) -> Self:
        forms = [form for form in (self.pattern, self.keys, self.columns) if form is not None]
        if len(forms) != 1:
            raise must("needs exactly one of pattern, keys and columns")
        if not self.form(False).groups:
            raise must("names neither volts nor amps nor another value")
        if self.length is not None and self.lines > 1:
            raise must("must not hold both length and lines")
        return self


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
        named = [group for table in self.answer for group in table.form(False).groups]
        for wanted in ("volts", "amps"):
            if wanted not in named:
                raise must(f"is incomplete: no [[answer]] has a group named {wanted}")
        if twice := {group for group in named if named.count(group) > 1}:
            raise must(f"is wrong: {min(twice)} stands in two [[answer]] tables")
        return self

    @model_validator(mode="after")
    def _says_how_long(self) -> Self:
        for place, table in self._asked():
            if (self.talk.answer_ends_with == "length") != (table.length is not None):
                raise mistake_at(
                    (*place, "length"),
                    'goes with answer_ends_with = "length": give both or none',
                )
        return self

    def _asked(self) -> Iterator[tuple[tuple[str | int, ...], _Long]]:
        for key in ("identity", "sentinel"):
            if (table := getattr(self, key)) is not None:
                yield (key,), table
        for number, answer in enumerate(self.answer):
            yield ("answer", number), answer

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
