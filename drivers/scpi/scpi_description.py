"""The description of a supply that speaks SCPI: a TOML file in, checked questions out."""

from dataclasses import dataclass
from typing import Literal, cast

from drivers.answer import NotUnderstood
from drivers.description import Heading, open_description
from drivers.errors import BadDescription, QuestionRefused
from drivers.number import Number, read_number
from drivers.questions import ENDS, ScpiQuestion
from drivers.toml_table import TomlTable

OPENING_QUESTIONS = ("SYST:ERR?", "SYST:ERR:NEXT?", "SYST:VERS?", "*ESR?", "*STB?", "*OPC?")
"""All that `on_open` may hold: nothing that sets, nothing that takes the front panel away."""

MOST_REGISTERS = 4
FOUND, FIRST_END = "found", "LF"
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
    """One register whose bits say what the supply is doing; masks of bits, 0 for none.

    `is_off_at_zero` is for a question such as `OUTP?` whose answer 0 says "output off".
    """

    question: ScpiQuestion
    cut_out: int
    constant_current: int
    constant_voltage: int
    output_off: int
    is_off_at_zero: bool
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
    heading, top = open_description(name, "scpi")
    talk = top.table("talk")
    ends_with = talk.choice("question_ends_with", (*ENDS, FOUND), FOUND)
    finds_ends = ends_with == FOUND
    ends_with = FIRST_END if finds_ends else ends_with
    identity = _named_question(top, "identity", ends_with)
    sentinel = _named_question(top, "sentinel", ends_with) or identity
    if sentinel is None:
        raise BadDescription(
            f"{name}: needs [identity], or [sentinel] with a question that has the same answer "
            "each time"
        )
    names = ("volts", "amps", "celsius") if "celsius" in top else ("volts", "amps")
    celsius_is_optional = top.table("celsius").yes_or_no("optional", False)
    registers = tuple(_register(table, ends_with) for table in top.tables("status"))
    if len(registers) > MOST_REGISTERS:
        raise top.wrong("status", f"stands there {len(registers)} times; at most {MOST_REGISTERS}")
    quantities = tuple(_quantity(top.table(each), each, ends_with) for each in names)
    description = ScpiDescription(
        heading=heading,
        identity=identity,
        sentinel=sentinel,
        quantities=quantities[:2] if celsius_is_optional and not has_probe else quantities,
        registers=registers,
        on_open=_on_open(top.table("on_open"), ends_with),
        together=cast(
            Together, talk.choice("together", ("always", "never", "if-answered"), "if-answered")
        ),
        status_every_s=talk.number("status_every_s", 1.0, least=0.0, most=60.0),
        answer_within_s=talk.optional_number("answer_within_s", least=0.01, most=30.0),
        quiet_s=talk.whole_number("quiet_ms", 30, 1, 5000) / 1000,
        ends_with=ends_with,
        finds_ends=finds_ends,
        celsius_is_optional=celsius_is_optional,
    )
    talk.refuse_the_rest()
    top.refuse_the_rest()
    return description


def _named_question(top: TomlTable, key: str, ends_with: str) -> ScpiQuestion | None:
    if key not in top:
        return None
    table = top.table(key)
    question = _question(table, "ask", table.text("ask"), ends_with)
    table.text("source")
    table.refuse_the_rest()
    return question


def _quantity(table: TomlTable, name: str, ends_with: str) -> Quantity:
    text = table.text("ask")
    if ";" in text:
        raise table.wrong("ask", "must ask for one value; 'together' joins the questions")
    scale = table.number("scale", 1.0, least=-1e9, most=1e9)
    if scale == 0.0:
        raise table.wrong("scale", "must not be 0")
    if name == "celsius":
        table.yes_or_no("optional", False)
    quantity = Quantity(
        name=name,
        question=_question(table, "ask", text, ends_with),
        unit=table.text("unit") if "unit" in table else "",
        scale=scale,
        source=table.text("source"),
    )
    table.refuse_the_rest()
    return quantity


def _register(table: TomlTable, ends_with: str) -> StatusRegister:
    text = table.text("ask")
    if ";" in text:
        raise table.wrong("ask", "must ask for one register")
    register = StatusRegister(
        question=_question(table, "ask", text, ends_with),
        cut_out=_mask(table, "cut_out_bits"),
        constant_current=_mask(table, "constant_current_bits"),
        constant_voltage=_mask(table, "constant_voltage_bits"),
        output_off=_mask(table, "output_off_bits"),
        is_off_at_zero="zero_means" in table
        and table.choice("zero_means", ("output-off",)) == "output-off",
        source=table.text("source"),
    )
    table.refuse_the_rest()
    masks = (register.cut_out, register.constant_current, register.constant_voltage)
    if not any(masks) and not register.output_off and not register.is_off_at_zero:
        raise table.wrong("ask", "is asked in vain: name bits, or what zero means")
    return register


def _on_open(table: TomlTable, ends_with: str) -> tuple[ScpiQuestion, ...]:
    texts = table.texts("ask")
    for text in texts:
        if text not in OPENING_QUESTIONS:
            valid = ", ".join(OPENING_QUESTIONS)
            raise table.wrong("ask", f"holds {text!r}; at opening only these are sent: {valid}")
    if texts:
        table.text("source")
    table.refuse_the_rest()
    return tuple(_question(table, "ask", text, ends_with) for text in texts)


def _question(table: TomlTable, key: str, text: str, ends_with: str) -> ScpiQuestion:
    if len(text) > _LONGEST_QUESTION:
        raise table.wrong(key, f"is longer than {_LONGEST_QUESTION} characters")
    try:
        return ScpiQuestion(text, ends_with)
    except QuestionRefused as error:
        raise table.wrong(key, f"cannot be asked: {error}") from error


def _mask(table: TomlTable, key: str) -> int:
    return sum(1 << bit for bit in table.whole_numbers(key, 0, 15))
