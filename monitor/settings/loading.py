"""Reads bench.toml; every mistake in it becomes one line with its cure."""

import re
import tomllib
from pathlib import Path

from platformdirs import user_data_path
from pydantic import ValidationError

from drivers.base.table import dotted, first_mistake
from monitor.base.errors import BadSettings
from monitor.settings.bench import Bench
from monitor.settings.toml_lines import Statement, line_of, statements, written_twice

LARGEST_BYTES = 1_000_000


def default_store_path() -> Path:
    """The store in the user's own data folder; the folder may not be there yet."""
    return user_data_path("bathvigil", appauthor=False) / "bathvigil.db"


def load_bench(path: Path) -> Bench:
    """Read and check the settings of a bench.

    Raises
    ------
    BadSettings
        One line: the file, the line, what is wrong there, and what would be right.
    """
    text = _text_of(path)
    known = statements(text)
    twice = written_twice(known)
    if twice is not None:
        first, second = twice
        raise BadSettings(
            f"{path}, line {second.line}: {dotted(second.path)} occurs twice "
            f"(first in line {first.line}); delete one"
        )
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(path, text, error) from error
    try:
        return Bench.model_validate(document, context={"folder": path.absolute().parent})
    except ValidationError as error:
        raise _not_valid(path, known, error) from error


def _text_of(path: Path) -> str:
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
        if len(data) > LARGEST_BYTES:
            raise BadSettings(f"{path}: is larger than any settings of a bench; check --config")
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except FileNotFoundError as error:
        raise BadSettings(f"{path}: there is no such file; check --config") from error
    except OSError as error:
        raise BadSettings(f"{path}: cannot be read ({error.strerror}); check --config") from error
    except UnicodeDecodeError as error:
        raise BadSettings(f"{path}: is not UTF-8 text; save it as UTF-8") from error


def _not_toml(path: Path, text: str, error: tomllib.TOMLDecodeError) -> BadSettings:
    place = re.search(r" \(at (?:line (\d+), column \d+|end of document)\)", str(error))
    message = str(error) if place is None else str(error)[: place.start()]
    number = int(place[1]) if place and place[1] else len(text.splitlines())
    lines = text.splitlines()
    shown = lines[number - 1].strip() if 0 < number <= len(lines) else ""
    return BadSettings(f"{path}, line {number}: not valid TOML: {shown!r} ({message})")


def _not_valid(path: Path, statements: list[Statement], error: ValidationError) -> BadSettings:
    place, what = first_mistake(error, Bench)
    line = line_of(statements, tuple(part for part in place if isinstance(part, str)))
    where = f"{path}" if line is None else f"{path}, line {line}"
    return BadSettings(f"{where}: {what}")
