"""The description of a supply that speaks plain lines: a TOML file in, checked questions out."""

import re
from dataclasses import dataclass

from drivers.answer import NotUnderstood
from drivers.description import Heading, open_description
from drivers.doubt import doubt_of, sound_celsius
from drivers.errors import BadDescription, QuestionRefused
from drivers.lines.line_question import LineQuestion
from drivers.number import Number, read_number
from drivers.questions import ENDS
from drivers.reading import Mode, Reading
from drivers.toml_table import TomlTable

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
class Said:
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

    def understand(self, text: str) -> Said:
        """The values of one answer; raises `NotUnderstood`."""
        match = None if len(text) > LONGEST_ANSWER else self.pattern.fullmatch(text)
        if match is None:
            raise NotUnderstood(f"not of the form {self.pattern.pattern}")
        numbers: dict[str, Number] = {}
        status = None
        for name, found in match.groupdict().items():
            if found is None:
                raise NotUnderstood(f"no {name} in it")
            if name == "status":
                status = found.strip()
            else:
                numbers[name] = self._number(name, found)
        return Said(numbers, status)

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

    def reading(self, said: dict[str, Number], status: str | None, apart_s: float) -> Reading:
        """What the answers of one poll say together."""
        volts, amps = said["volts"], said["amps"]
        doubts = (
            doubt_of("volts", volts, self.heading.rated_volts),
            doubt_of("amps", amps, self.heading.rated_amps),
        )
        return Reading(
            volts=volts.value,
            amps=amps.value,
            celsius=sound_celsius(said["celsius"]) if "celsius" in said else None,
            mode=self.states.get(status or "", Mode.UNKNOWN),
            apart_s=apart_s,
            doubt="; ".join(doubt for doubt in doubts if doubt is not None) or None,
        )


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
    heading, top = open_description(name, "lines")
    talk = top.table("talk")
    every_s = talk.optional_number("speaks_every_s", least=0.02, most=60.0)
    ends_with = "none"
    if every_s is None:
        ends_with = talk.choice("question_ends_with", tuple(ENDS), "LF")
    ends_in_silence = talk.choice("answer_ends_with", ("line-end", "silence"), "line-end")
    idle_ms = talk.whole_number("silence_ms", 50, 5, 2000) if ends_in_silence == "silence" else None
    has_comma = talk.choice("decimal_sign", (".", ","), ".") == ","
    within_s = talk.optional_number("answer_within_s", least=0.01, most=30.0)
    quiet_s = talk.whole_number("quiet_ms", 30, 1, 5000) / 1000
    talk.refuse_the_rest()
    identity = _named_question(top, "identity", ends_with, every_s)
    sentinel = _named_question(top, "sentinel", ends_with, every_s) or identity
    asked = tuple(
        _asked(table, ends_with, has_comma, every_s is not None) for table in top.tables("answer")
    )
    states = _states(top) if "status" in top else {}
    top.refuse_the_rest()
    _refuse_incomplete(name, asked, every_s)
    return LinesDescription(
        heading=heading,
        identity=identity,
        sentinel=sentinel,
        asked=asked,
        states=states,
        idle_s=None if idle_ms is None else idle_ms / 1000,
        every_s=every_s,
        answer_within_s=within_s,
        quiet_s=quiet_s,
    )


def _refuse_incomplete(name: str, asked: tuple[LineAsked, ...], every_s: float | None) -> None:
    named = [group for each in asked for group in each.form.groups]
    for wanted in ("volts", "amps"):
        if wanted not in named:
            raise BadDescription(f"{name}: no [[answer]] has a group named {wanted}")
    twice = {group for group in named if named.count(group) > 1}
    if twice:
        raise BadDescription(f"{name}: {min(twice)} stands in two [[answer]] tables")
    if every_s is not None and len(asked) != 1:
        raise BadDescription(f"{name}: one that speaks unasked has one [[answer]]")


def _named_question(
    top: TomlTable, key: str, ends_with: str, every_s: float | None
) -> LineQuestion | None:
    if key not in top:
        return None
    if every_s is not None:
        raise top.wrong(key, "cannot be asked: the supply speaks unasked")
    table = top.table(key)
    question = _question(table, ends_with)
    table.text("source")
    table.refuse_the_rest()
    return question


def _asked(table: TomlTable, ends_with: str, has_comma: bool, is_unasked: bool) -> LineAsked:
    question = None if is_unasked else _question(table, ends_with)
    text = table.text("pattern")
    try:
        pattern = re.compile(text, re.ASCII)
    except re.error as error:
        raise table.wrong("pattern", f"is no pattern: {error}") from error
    for group in pattern.groupindex:
        if group not in GROUPS:
            raise table.wrong("pattern", f"names a group {group!r}; valid: {', '.join(GROUPS)}")
    if not pattern.groupindex:
        raise table.wrong("pattern", "names no group such as (?P<volts>[0-9.]+)")
    scales = {}
    for name in QUANTITIES:
        if name in pattern.groupindex:
            scales[name] = table.number(f"{name}_scale", 1.0, least=-1e9, most=1e9)
            if scales[name] == 0.0:
                raise table.wrong(f"{name}_scale", "must not be 0")
    asked = LineAsked(question, LinePattern(pattern, scales, has_comma), table.text("source"))
    table.refuse_the_rest()
    return asked


def _question(table: TomlTable, ends_with: str) -> LineQuestion:
    try:
        return LineQuestion(table.text("ask"), ends_with)
    except QuestionRefused as error:
        raise table.wrong("ask", f"cannot be asked: {error}") from error


def _states(top: TomlTable) -> dict[str, Mode]:
    table = top.table("status")
    states = {word: mode for key, mode in _MODES.items() for word in table.texts(key)}
    table.text("source")
    table.refuse_the_rest()
    return states
