"""The description file of one model of supply: what the descriptions of all kinds share.

A description is a TOML file that says where in the supply's manual each thing stands. This file
holds what all kinds have in common; each driver adds its own tables (`scpi_description.py`).
"""

import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Annotated, Literal, TypeAlias, TypeVar, cast

from annotated_types import Interval
from pydantic import AfterValidator, ValidationError

from drivers.base.inert import inert
from drivers.base.nearest import nearest_hint
from drivers.base.table import Table, Text, first_mistake, must
from drivers.commissioned import Commissioned
from drivers.errors import BadDescription, QuestionRefused
from drivers.link.serial_settings import Baud, Parity, SerialSettings

FORMAT = 1
KINDS = ("scpi", "modbus", "lines")
_LARGEST_FILE = 65536

T = TypeVar("T", bound="DescriptionFile")


@dataclass(frozen=True, slots=True)
class Heading:
    """What all kinds have in common.

    Parameters
    ----------
    name
        Of the shipped description, or the file's path.
    kind
        The driver that it is for, such as "scpi".
    title
        Which supply it describes, in words.
    source
        The manual or standard that it was written from.
    rated_volts, rated_amps
        What the supply can give at most; None where it is not known.
    serial
        How a serial port is set for this supply; the address may say otherwise.
    commissioned
        How it was made, where `bathvigil commission` made it.
    """

    name: str
    kind: str
    title: str
    source: str
    rated_volts: float | None
    rated_amps: float | None
    serial: SerialSettings
    commissioned: Commissioned | None = None


def _not_zero(scale: float) -> float:
    if scale == 0.0:
        raise must("must not be 0")
    return scale


Scale: TypeAlias = Annotated[float, Interval(ge=-1e9, le=1e9), AfterValidator(_not_zero)]
"""What one step of an answer is worth in V, A or degrees Celsius."""


class _Ratings(Table):
    volts: Annotated[float, Interval(ge=0.1, le=1e4)] | None = None
    amps: Annotated[float, Interval(ge=0.01, le=1e5)] | None = None


class _Serial(Table):
    baud: Baud = SerialSettings().baud
    parity: Parity = "none"
    stop_bits: Annotated[int, Interval(ge=1, le=2)] = 1
    data_bits: Annotated[int, Interval(ge=7, le=8)] = 8

    def settings(self) -> SerialSettings:
        return SerialSettings(
            self.baud,
            self.parity,
            cast(Literal[1, 2], self.stop_bits),
            cast(Literal[7, 8], self.data_bits),
        )


class DescriptionFile(Table):
    """The tables of a description that all kinds have."""

    format: Annotated[int, Interval(ge=FORMAT, le=FORMAT)]
    kind: Literal["scpi", "modbus", "lines"]
    title: Text
    source: Text
    ratings: _Ratings = _Ratings()
    serial: _Serial = _Serial()
    commissioned: Commissioned | None = None

    def heading(self, name: str) -> Heading:
        """What all kinds have in common."""
        return Heading(
            name,
            self.kind,
            self.title,
            self.source,
            self.ratings.volts,
            self.ratings.amps,
            self.serial.settings(),
            self.commissioned,
        )


def askable(ask: Callable[[str], object]) -> AfterValidator:
    """Takes a text only where it can be asked; `ask` makes a question of it, or refuses."""

    def check(text: str) -> str:
        try:
            ask(text)
        except QuestionRefused as error:
            raise must(f"cannot be asked: {error}") from error
        return text

    return AfterValidator(check)


def shipped_descriptions() -> tuple[str, ...]:
    """The names of the descriptions that come with the program."""
    folder = resources.files("drivers") / "descriptions"
    names = (entry.name for entry in folder.iterdir())
    return tuple(sorted(name[:-5] for name in names if name.endswith(".toml")))


def description_kind(name: str) -> str:
    """The kind of a description as it says itself; "" for none. Raises `BadDescription`."""
    kind = _read(name).get("kind")
    return kind if isinstance(kind, str) else ""


def open_description(name: str, model: type[T]) -> T:
    """Read a description of one kind.

    Parameters
    ----------
    name
        Of a shipped description, or the path of a file: whatever ends in ".toml" or holds a
        slash is a path.
    model
        The tables of its kind; the default of its `kind` says which.

    Raises
    ------
    BadDescription
        Naming the file and the key.
    """
    entries = _read(name)
    kind, wanted = entries.get("kind"), model.model_fields["kind"].default
    if isinstance(number := entries.get("format"), int) and number > FORMAT:
        raise BadDescription(
            f"{name}: format must be {FORMAT}: a newer bathvigil may read this file"
        )
    if kind in KINDS and kind != wanted:
        raise BadDescription(
            f"{name}: is for {kind} supplies: begin the supply's address with {kind!r}, "
            f"or name a description of kind {wanted!r}"
        )
    try:
        return model.model_validate(entries)
    except ValidationError as error:
        raise BadDescription(f"{name}: {first_mistake(error, model)[1]}") from error


def _read(name: str) -> dict[str, object]:
    if name.endswith(".toml") or "/" in name or "\\" in name:
        return _entries(name, Path(name).expanduser())
    if name not in shipped_descriptions():
        raise BadDescription(
            f"no description is called {name!r}; {nearest_hint(name, shipped_descriptions())}; "
            "a file of your own is named by its path"
        )
    folder = resources.files("drivers") / "descriptions"
    with resources.as_file(folder / f"{name}.toml") as path:
        return _entries(name, path)


def _entries(where: str, path: Path) -> dict[str, object]:
    try:
        with path.open("rb") as file:
            data = file.read(_LARGEST_FILE + 1)
    except OSError as error:
        raise BadDescription(f"{where}: cannot be read: {error.strerror}") from error
    if len(data) > _LARGEST_FILE:
        raise BadDescription(f"{where}: over {_LARGEST_FILE} bytes is too large for a description")
    try:
        return tomllib.loads(data.decode("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadDescription(f"{where}: not a TOML file: {inert(str(error))}") from error
