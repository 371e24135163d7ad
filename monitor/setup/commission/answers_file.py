"""Reads a file of answers for `bathvigil commission`; raises `WrongUse` for a bad one."""

import tomllib
from pathlib import Path
from typing import Annotated, Any, TypeAlias

from pydantic import BeforeValidator, Field, ValidationError, create_model

from drivers.base.inert import inert
from drivers.base.table import Table, first_mistake, must
from monitor.base.errors import WrongUse
from monitor.setup.commission.questionnaire import BY_KEY, Answers


def read_answers(path: Path) -> tuple[Answers, list[dict[str, str]]]:
    """The answers of a file by the keys of the questions, and its tables [[panel]] as written.

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
    given = answers.model_dump(exclude_unset=True, exclude={"panel"})
    return given, [shown.model_dump() for shown in answers.panel]


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
_Answers = create_model("_Answers", __base__=_WithPanel, **dict.fromkeys(BY_KEY, _ANSWER))
