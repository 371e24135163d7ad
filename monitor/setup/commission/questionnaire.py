"""The questions of `bathvigil commission`, and what a valid answer to each is.

Each question stands here once. It is answered by an option, by a file of answers, or at the
terminal. All answers are checked before the port is opened: the sessions only use them.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum, auto
from typing import TypeAlias

from drivers.errors import QuestionRefused
from drivers.lines.line_question import typed_question
from drivers.modbus.register_value import ORDERS, TYPES
from drivers.text.scpi_question import ScpiQuestion
from monitor.base.errors import WrongUse
from monitor.setup.commission.manual_number import read_manual_number, read_scale_numbers
from monitor.setup.commission.states import read_cut_out, read_states

Answers: TypeAlias = Mapping[str, str]
"""The answer to every question, by its key; "" for no answer."""
Check: TypeAlias = Callable[[str], str]
"""Takes a text that is not empty and returns it as it is kept; raises `WrongUse`."""

MODBUS, LINES, SCPI = "modbus", "lines", "scpi"
"""The kinds of supply that can be commissioned, by the driver of their address."""


class Need(Enum):
    """How a question is put."""

    MUST = auto()
    """It needs an answer."""
    MAY = auto()
    """It may stay without an answer."""
    GIVEN = auto()
    """It is not put at the terminal: only an option or a file answers it."""


@dataclass(frozen=True, slots=True)
class Question:
    """One question.

    Parameters
    ----------
    key
        Its name in a file of answers; its option is the same with dashes.
    text
        What the operator reads.
    check
        Accepts or refuses an answer.
    only_with
        The key of a question that must have an answer, or this one is not put; "" for none.
    """

    key: str
    need: Need
    text: str
    check: Check = str
    only_with: str = ""

    @property
    def option(self) -> str:
        """Such as "--volts-at"."""
        return f"--{self.key.replace('_', '-')}"


def _accepted_by(read: Callable[[str], object]) -> Check:
    """Takes what `read` takes, and keeps it as typed."""

    def check(text: str) -> str:
        try:
            read(text)
        except QuestionRefused as error:
            raise WrongUse(str(error)) from error
        return text

    return check


def _one_of(*valid: str) -> Check:
    """Takes these in any case, and keeps them as they are spelt here."""
    spelt = {word.lower(): word for word in valid}

    def check(text: str) -> str:
        if text.lower() not in spelt:
            raise WrongUse(f"{text!r}: type one of {', '.join(valid)}")
        return spelt[text.lower()]

    return check


def _rating(text: str) -> str:
    number = text.replace(",", ".").rstrip("VAva ")
    try:
        is_possible = 0.1 <= float(number) <= 10_000
    except ValueError:
        is_possible = False
    if not is_possible:
        raise WrongUse(f"{text!r}: type a number from 0.1 to 10000, such as 12")
    return number


_REGISTER = _accepted_by(read_manual_number)
_SCALES = _accepted_by(read_scale_numbers)
_LINE, _SCPI = _accepted_by(typed_question), _accepted_by(ScpiQuestion)
_STATES, _CUT_OUT = _accepted_by(read_states), _accepted_by(read_cut_out)
_BY = _one_of("values", "bits")

_COMMON = (
    Question("operator", Need.MUST, "Your name"),
    Question("title", Need.MUST, "Make and model of the supply"),
    Question("source", Need.MUST, "Title and page of the manual that you use"),
    Question("rated_volts", Need.MAY, "Highest volts on its rating plate", _rating),
    Question("rated_amps", Need.MAY, "Highest amps on its rating plate", _rating),
)
_TYPES, _ORDERS = ", ".join(TYPES), ", ".join(ORDERS)
QUESTIONS = {
    MODBUS: (
        *_COMMON,
        Question("volts_at", Need.MUST, "Register of the measured volts, such as 40001", _REGISTER),
        Question("amps_at", Need.MUST, "Register of the measured amps", _REGISTER),
        Question(
            "function", Need.GIVEN, "Modbus function in the manual: 3 or 4", _one_of("3", "4")
        ),
        Question("type", Need.GIVEN, f"Number type in the manual: {_TYPES}", _one_of(*TYPES)),
        Question("order", Need.GIVEN, f"Byte order in the manual: {_ORDERS}", _one_of(*ORDERS)),
        *(
            question
            for name in ("volts", "amps")
            for question in (
                Question(
                    f"{name}_type",
                    Need.GIVEN,
                    f"Number type of the {name}, where it is one of its own",
                    _one_of(*TYPES),
                ),
                Question(
                    f"{name}_order",
                    Need.GIVEN,
                    f"Byte order of the {name}, where it is one of its own",
                    _one_of(*ORDERS),
                ),
            )
        ),
        Question(
            "offset",
            Need.GIVEN,
            "Correct the register numbers by -1, 0 or 1",
            _one_of("-1", "0", "1"),
        ),
        Question(
            "scale_at",
            Need.MAY,
            "Register that says how many decimals they have; two if each has one",
            _SCALES,
        ),
        Question("celsius_at", Need.MAY, "Register of a temperature", _REGISTER),
        Question("identity_at", Need.MAY, "Register of the serial number", _REGISTER),
        Question("status_at", Need.MAY, "Register of the state, such as cut out", _REGISTER),
        Question(
            "states",
            Need.MUST,
            "States that you can set now, such as off, CV",
            _STATES,
            "status_at",
        ),
        Question("status_by", Need.GIVEN, "Tell states apart by: values or bits", _BY, "status_at"),
        Question(
            "cut_out_by",
            Need.MAY,
            "Sign of a cut-out, such as 'bit 5' or 'value 4'",
            _CUT_OUT,
            "status_at",
        ),
    ),
    LINES: (
        *_COMMON,
        Question("ask_volts", Need.MAY, "Question for the volts; none if it sends unasked", _LINE),
        Question(
            "ask_amps",
            Need.MUST,
            "Question for the amps, which may be the same",
            _LINE,
            "ask_volts",
        ),
        Question("ask_state", Need.MAY, "Question for the state, if separate", _LINE, "ask_volts"),
        Question("ask_identity", Need.MAY, "Question for the serial number", _LINE, "ask_volts"),
    ),
    SCPI: (
        *_COMMON,
        Question("ask_volts", Need.MAY, "Question for the volts", _SCPI),
        Question("ask_amps", Need.MAY, "Question for the amps", _SCPI),
    ),
}
"""What is asked of each kind of supply, in this order."""

BY_KEY = {
    question.key: question for question in (*QUESTIONS[MODBUS], *QUESTIONS[SCPI], *QUESTIONS[LINES])
}
"""One question of each key: for options and files of answers."""
REGISTER_FACTS = (
    "function",
    "type",
    "order",
    "offset",
    "volts_type",
    "volts_order",
    "amps_type",
    "amps_order",
)
"""What a manual may say that tells two ways to read a register apart."""


def ask_all(kind: str, given: Answers, type_in: Callable[[Question], str] | None) -> dict[str, str]:
    """The answers to all questions for one kind of supply.

    Parameters
    ----------
    given
        By options and a file of answers.
    type_in
        Puts a question at the terminal until it has a valid answer; None where nobody is there.

    Raises
    ------
    WrongUse
        Naming the option of the answer that is wrong or missing.
    """
    answers = dict.fromkeys(BY_KEY, "")
    for question in QUESTIONS[kind]:
        text = given.get(question.key, "").strip()
        is_put = not question.only_with or answers[question.only_with] != ""
        if text and not is_put:
            raise WrongUse(f"{question.option} needs {BY_KEY[question.only_with].option}, too")
        if text:
            try:
                answers[question.key] = question.check(text)
            except WrongUse as error:
                raise WrongUse(f"{question.option}: {error}") from error
        elif not is_put or (question.need is Need.MAY and question.key in given):
            continue
        elif question.need is not Need.GIVEN and type_in is not None:
            answers[question.key] = type_in(question)
        elif question.need is Need.MUST:
            raise WrongUse(
                f"{question.text}: give {question.option}, or {question.key} in --answers"
            )
    return answers


def ratings_of(answers: Answers) -> dict[str, float]:
    """What the rating plate says, by "volts" and "amps"; what is not known is left out."""
    texts = {name: answers[f"rated_{name}"] for name in ("volts", "amps")}
    return {name: float(text) for name, text in texts.items() if text}
