"""The name or path of a supply's description in, its opening part out; kinds read on from there.

A description is a TOML file: how one model of supply is asked, what its answers mean, and where
in its manual each thing stands. This file reads what every kind has in common; each driver reads
its own tables from what is left (`scpi_description.py`).
"""

from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Literal, cast

from drivers.base.nearest import nearest_hint
from drivers.errors import BadDescription
from drivers.link.serial_settings import SerialSettings
from drivers.toml_table import TomlTable, read_toml

FORMAT = 1
KINDS = ("scpi", "modbus", "lines")


@dataclass(frozen=True, slots=True)
class Seen:
    """One answer that a description was made from.

    Parameters
    ----------
    asked
        The question, in words.
    raw
        The bytes that came, hexadecimal.
    shown
        What the supply's front panel showed then, such as "12.0 V, 5.01 A"; "" for nothing.
    """

    asked: str
    raw: str
    shown: str


@dataclass(frozen=True, slots=True)
class Commissioned:
    """Where a description of one's own comes from: who made it, when, with what, from what."""

    operator: str
    date: str
    program: str
    choice: str
    seen: tuple[Seen, ...]


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


def shipped_descriptions() -> tuple[str, ...]:
    """The names of the descriptions that come with the program."""
    folder = resources.files("drivers") / "descriptions"
    names = (entry.name for entry in folder.iterdir())
    return tuple(sorted(name[:-5] for name in names if name.endswith(".toml")))


def open_description(name: str, kind: str) -> tuple[Heading, TomlTable]:
    """Read the common part of a description of one kind; the caller reads the rest.

    Parameters
    ----------
    name
        Of a shipped description, or the path of a file: whatever ends in ".toml" or holds a
        slash is a path.

    Raises
    ------
    BadDescription
        Naming the file and the key.
    """
    top = _read(name)
    if top.whole_number("format", None, 1, 999) != FORMAT:
        raise top.wrong("format", f"must be {FORMAT}: a newer bathvigil may read this file")
    found = top.choice("kind", KINDS)
    if found != kind:
        raise BadDescription(
            f"{name}: is for {found} supplies: begin the supply's address with {found!r}, "
            f"or name a description of kind {kind!r}"
        )
    ratings = top.table("ratings")
    heading = Heading(
        name=name,
        kind=found,
        title=top.text("title"),
        source=top.text("source"),
        rated_volts=ratings.optional_number("volts", least=0.1, most=1e4),
        rated_amps=ratings.optional_number("amps", least=0.01, most=1e5),
        serial=_serial(top.table("serial")),
        commissioned=_commissioned(top.table("commissioned")) if "commissioned" in top else None,
    )
    ratings.refuse_the_rest()
    return heading, top


def _read(name: str) -> TomlTable:
    if name.endswith(".toml") or "/" in name or "\\" in name:
        return read_toml(name, Path(name).expanduser())
    if name not in shipped_descriptions():
        raise BadDescription(
            f"no description is called {name!r}; {nearest_hint(name, shipped_descriptions())}; "
            "a file of your own is named by its path"
        )
    folder = resources.files("drivers") / "descriptions"
    with resources.as_file(folder / f"{name}.toml") as path:
        return read_toml(name, path)


def _serial(table: TomlTable) -> SerialSettings:
    usual = SerialSettings()
    parity = table.choice("parity", ("none", "even", "odd"), usual.parity)
    settings = SerialSettings(
        baud=table.whole_number("baud", usual.baud, 50, 4_000_000),
        parity=cast(Literal["none", "even", "odd"], parity),
        stop_bits=1 if table.whole_number("stop_bits", usual.stop_bits, 1, 2) == 1 else 2,
        data_bits=7 if table.whole_number("data_bits", usual.data_bits, 7, 8) == 7 else 8,
    )
    table.refuse_the_rest()
    return settings


def _commissioned(table: TomlTable) -> Commissioned:
    seen = []
    for one in table.tables("seen"):
        shown = one.text("shown") if "shown" in one else ""
        seen.append(Seen(one.text("asked"), one.text("raw"), shown))
        one.refuse_the_rest()
    made = Commissioned(
        operator=table.text("operator"),
        date=table.text("date"),
        program=table.text("program"),
        choice=table.text("choice"),
        seen=tuple(seen),
    )
    table.refuse_the_rest()
    return made
