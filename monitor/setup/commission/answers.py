"""What the operator says while a supply is commissioned: flags, a file, or asked at the time."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, Protocol, TypeAlias

from pydantic import BeforeValidator, Field, ValidationError, create_model

from drivers.base.inert import inert
from drivers.base.table import Table, first_mistake, must
from monitor.base.errors import WrongUse

QUESTIONS = {
    "operator": "Your name",
    "title": "What supply is it (maker's plate, in your own words)",
    "source": "Which manual, and where in it",
    "rated_volts": "Most volts by its rating plate, or nothing",
    "rated_amps": "Most amps by its rating plate, or nothing",
    "volts_at": "Register of the measured volts, as the manual prints it (such as 40001)",
    "amps_at": "Register of the measured amps, as the manual prints it",
    "function": "Function by the manual, 3 (holding) or 4 (input), or nothing",
    "type": "Type by the manual: int16, uint16, int32, uint32, float32, or nothing",
    "order": "Byte order by the manual: ABCD, CDAB, BADC, DCBA, or nothing",
    "offset": "How the manual's numbers are off from the wire: -1, 0, 1, or nothing",
    "identity_at": "Register of its serial number by the manual (two are read), or nothing",
    "celsius_at": "Register of a temperature by the manual, or nothing",
    "status_at": "Register that tells its state (constant voltage, cut out, ...), or nothing",
    "states": "States that you can show one after the other, two or more, such as off, CV",
    "status_by": "Whether the manual tells the states by values or by bits, or nothing",
    "cut_out_by": "How it tells by the manual that it has cut out: 'bit 5', 'value 4', or nothing",
    "ask_volts": "Question for volts, as the manual prints it; nothing if it speaks unasked",
    "ask_amps": "Question for amps, the same where one answer holds both; nothing if unasked",
    "ask_state": "Question for its state, where it has one of its own, or nothing",
    "ask_identity": "Question for its name or serial number, or nothing",
}
"""Every answer that can be given, and how it is asked for."""

MAY_BE_EMPTY = {
    "rated_volts",
    "rated_amps",
    "function",
    "type",
    "order",
    "offset",
    "ask_identity",
    "identity_at",
    "celsius_at",
    "status_at",
    "status_by",
    "cut_out_by",
    "ask_volts",
    "ask_amps",
    "ask_state",
}


@dataclass(frozen=True, slots=True)
class PanelShown:
    """What the front panel showed at one setting, as it was typed; "" for what nobody typed."""

    volts: str
    amps: str
    celsius: str = ""

    @property
    def words(self) -> str:
        """As it is kept in the description."""
        shown = f"{self.volts.strip()} V, {self.amps.strip()} A"
        return f"{shown}, {self.celsius.strip()} C" if self.celsius else shown


class Operator(Protocol):
    """Who answers: a person, or what was prepared."""

    def answer(self, key: str) -> str:
        """The answer to a question of `QUESTIONS`; "" for nothing; raises `WrongUse`."""
        ...

    def set_panel(self, number: int) -> PanelShown:
        """Have the front panel changed for the first or second time; what it shows then."""
        ...

    def set_state(self, words: str, number: int, of: int) -> None:
        """Have the supply brought into a state, such as "output-off", the number-th of so many."""
        ...

    def narrow(self, why: str) -> tuple[str, str] | None:
        """Several ways fit: one more thing that the manual says, by its key; None to give up."""
        ...

    def tell(self, text: str) -> None:
        """Show something."""
        ...


@dataclass(frozen=True, slots=True)
class Prepared:
    """Answers given beforehand, by flags and a file.

    Parameters
    ----------
    answers
        By the keys of `QUESTIONS`.
    settings
        What the panel will show, in order.
    """

    answers: Mapping[str, str] = field(default_factory=dict)
    settings: tuple[PanelShown, ...] = ()


def read_answers(path: Path) -> Prepared:
    """Read a file of answers: the keys of `QUESTIONS`, and tables [[panel]] with volts and amps.

    Raises
    ------
    WrongUse
        Naming the key.
    """
    try:
        document = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise WrongUse(f"{path}: cannot be read ({error.strerror}); check --answers") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise WrongUse(f"{path}: not a TOML file: {inert(str(error))}") from error
    try:
        answers = _Answers.model_validate(document)
    except ValidationError as error:
        raise WrongUse(f"{path}: {first_mistake(error, _Answers)[1]}") from error
    given = {key: str(value) for key, value in answers if key in answers.model_fields_set}
    given.pop("panel", None)
    panel = tuple(PanelShown(shown.volts, shown.amps, shown.celsius) for shown in answers.panel)
    return Prepared(given, panel)


def _as_text(answer: object) -> str:
    if isinstance(answer, bool) or not isinstance(answer, str | float | int):
        raise must("must be a text or a number")
    return str(answer)


_Answer: TypeAlias = Annotated[str, BeforeValidator(_as_text)]


class _Panel(Table):
    volts: _Answer
    amps: _Answer
    celsius: _Answer = ""


class _WithPanel(Table):
    panel: list[_Panel] = Field(default_factory=list)


_ANSWER: Any = (_Answer, "")
_Answers = create_model("_Answers", __base__=_WithPanel, **dict.fromkeys(QUESTIONS, _ANSWER))
