"""The description of a supply that speaks SCPI: its questions and its status registers."""

from dataclasses import dataclass
from typing import Annotated, Literal, Self

from annotated_types import Interval
from pydantic import AfterValidator, Field, model_validator

from drivers.base.table import Table, Text, mistake_at, must
from drivers.base.timeout import TimeoutS
from drivers.description import DescriptionFile, Heading, Scale, askable, open_description
from drivers.errors import NotUnderstood
from drivers.mode_bits import StatusBits, StatusWord
from drivers.number import Number
from drivers.text.answer import read_number
from drivers.text.scpi_question import ScpiQuestion
from drivers.text.talk_style import PLAIN_STYLE, TalkStyle
from drivers.text.talk_table import TalkStyleTable
from drivers.text.text_question import End

OPENING_QUESTIONS = ("SYST:ERR?", "SYST:ERR:NEXT?", "SYST:VERS?", "*ESR?", "*STB?", "*OPC?")
"""All that `on_open` may hold: nothing that sets, nothing that takes the front panel away."""

MOST_REGISTERS = 4
FOUND: Literal["found"] = "found"
FIRST_END = "LF"
_LONGEST_QUESTION = 50  # so that all of them fit into one message

Together = Literal["always", "never", "if-answered"]


@dataclass(frozen=True, slots=True)
class Quantity:
    """One measured value, and the question for it.

    Parameters
    ----------
    name
        "volts", "amps" or "celsius".
    unit
        What may stand behind the number; "" for nothing.
    scale
        The answer times this is in V, A or degrees Celsius.
    source
        Where the question stands in a manual or standard.
    """

    name: str
    question: ScpiQuestion
    unit: str
    scale: float
    source: str

    def understand(self, text: str) -> Number:
        """The value in V, A or degrees Celsius; raises `NotUnderstood`."""
        number = read_number(text, self.unit)
        return number if number.value is None else Number(number.value * self.scale)


@dataclass(frozen=True, slots=True)
class StatusRegister:
    """One register that says what the supply is doing.

    Parameters
    ----------
    word
        What its bits mean; for a question such as `OUTP?` the answer 0 may say "output off".
    """

    question: ScpiQuestion
    word: StatusWord
    source: str

    def understand(self, text: str) -> int:
        """The register's value, 0 to 65535; raises `NotUnderstood`."""
        value = read_number(text).value
        if value is None or not value.is_integer() or not 0 <= value <= 0xFFFF:
            raise NotUnderstood("not a register of 16 bits")
        return int(value)


@dataclass(frozen=True, slots=True)
class ScpiDescription:
    """How one model of supply is asked.

    Parameters
    ----------
    identity
        The question for who it is; None where the supply has none.
    sentinel
        A question that has the same answer each time, asked to find out where question and
        answer stand after trouble; the identity where nothing else is named.
    quantities
        Volts, amps, and celsius where there is a probe, in the order in which they are asked.
    together
        Whether they are asked in one message.
    answer_within_s
        The longest that the supply takes; None where it is not known.
    quiet_s
        For how long nothing must come until the line counts as quiet.
    on_open
        Asked once at each opening, for what the answers say about the supply.
    ends_with, finds_ends
        How questions end; whether that is only the first try at finding out.
    celsius_is_optional
        A temperature is asked for only where the address says that there is a probe.
    style
        What else there is to know of how the supply talks.
    """

    heading: Heading
    identity: ScpiQuestion | None
    sentinel: ScpiQuestion
    quantities: tuple[Quantity, ...]
    registers: tuple[StatusRegister, ...]
    on_open: tuple[ScpiQuestion, ...]
    together: Together
    status_every_s: float
    answer_within_s: float | None
    quiet_s: float
    ends_with: str
    finds_ends: bool
    celsius_is_optional: bool
    style: TalkStyle = PLAIN_STYLE


def load_scpi_description(name: str, has_probe: bool = False) -> ScpiDescription:
    """Read a description of kind "scpi".

    Parameters
    ----------
    has_probe
        True asks for an optional temperature, too.

    Raises
    ------
    BadDescription
        Naming the file and the key.

    Examples
    --------
    >>> supply = load_scpi_description("scpi-dc-supply")
    >>> [quantity.question.text for quantity in supply.quantities]
    ['MEAS:VOLT?', 'MEAS:CURR?']
    """
    file = open_description(name, _File)
    talk = file.talk
    finds_ends = talk.question_ends_with == FOUND
    ends_with = FIRST_END if finds_ends else talk.question_ends_with

    def question(table: _Asked) -> ScpiQuestion:
        return ScpiQuestion(table.ask, ends_with)

    def quantity(name: str, table: _Quantity) -> Quantity:
        return Quantity(name, question(table), table.unit, table.scale, table.source)

    quantities = [quantity("volts", file.volts), quantity("amps", file.amps)]
    if file.celsius is not None and (has_probe or not file.celsius.optional):
        quantities.append(quantity("celsius", file.celsius))
    named = file.sentinel or file.identity
    assert named is not None, "the file's own rule"
    on_open = [] if file.on_open is None else file.on_open.ask
    return ScpiDescription(
        heading=file.heading(name),
        identity=None if file.identity is None else question(file.identity),
        sentinel=question(named),
        quantities=tuple(quantities),
        registers=tuple(
            StatusRegister(question(table), table.word(), table.source) for table in file.status
        ),
        on_open=tuple(ScpiQuestion(text, ends_with) for text in on_open),
        together=talk.together,
        status_every_s=talk.status_every_s,
        answer_within_s=talk.answer_within_s,
        quiet_s=talk.quiet_ms / 1000,
        ends_with=ends_with,
        finds_ends=finds_ends,
        celsius_is_optional=file.celsius is not None and file.celsius.optional,
        style=talk.style(),
    )


def _one_question(text: str) -> str:
    if len(text) > _LONGEST_QUESTION:
        raise must(f"is longer than {_LONGEST_QUESTION} characters")
    if ";" in text:
        raise must("must ask for one value; 'together' joins the questions")
    return text


def _of_the_opening(text: str) -> str:
    if text not in OPENING_QUESTIONS:
        valid = ", ".join(OPENING_QUESTIONS)
        raise must(f"holds {text!r}; at opening only these are sent: {valid}")
    return text


class _Talk(TalkStyleTable):
    question_ends_with: Literal[End, "found"] = FOUND
    together: Together = "if-answered"
    status_every_s: Annotated[float, Interval(ge=0, le=60)] = 1.0
    answer_within_s: TimeoutS | None = None
    quiet_ms: Annotated[int, Interval(ge=1, le=5000)] = 30


class _Asked(Table):
    ask: Annotated[Text, AfterValidator(_one_question), askable(ScpiQuestion)]
    source: Text


class _Quantity(_Asked):
    unit: Text = ""
    scale: Scale = 1.0


class _Celsius(_Quantity):
    optional: bool = False


class _Status(_Asked, StatusBits):
    pass


class _OnOpen(Table):
    ask: list[Annotated[str, AfterValidator(_of_the_opening)]] = Field(default_factory=list)
    source: Text


class _File(DescriptionFile):
    kind: Literal["scpi"] = "scpi"
    talk: _Talk = _Talk()
    identity: _Asked | None = None
    sentinel: _Asked | None = None
    volts: _Quantity
    amps: _Quantity
    celsius: _Celsius | None = None
    status: list[_Status] = Field(default_factory=list)
    on_open: _OnOpen | None = None

    @model_validator(mode="after")
    def _can_be_asked(self) -> Self:
        if self.identity is None and self.sentinel is None:
            raise must(
                "needs [identity], or [sentinel] with a question that has the same answer each time"
            )
        if len(self.status) > MOST_REGISTERS:
            times = len(self.status)
            raise mistake_at(("status",), f"stands there {times} times; at most {MOST_REGISTERS}")
        return self
