"""The path of a bench.toml in, checked settings out; every mistake is one line with its cure."""

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from drivers.base.nearest import nearest
from monitor.base.errors import BadSettings
from monitor.settings.bench import Bench
from monitor.settings.toml_lines import Statement, line_of, statements, written_twice

KeyPath = tuple[str, ...]
A_WINDOW = "a lowest and a highest value, as in [6.0, 12.0]"


def load_bench(path: Path) -> Bench:
    """Read and check the settings of a bench.

    Raises
    ------
    BadSettings
        One line: the file, the line, what is wrong there, and what would be right.
    """
    text = _text_of(path)
    found = statements(text)
    twice = written_twice(found)
    if twice is not None:
        first, second = twice
        raise BadSettings(
            f"{path}, line {second.line}: {_dotted(second.path)} stands there twice "
            f"(first in line {first.line}); leave one out"
        )
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(path, text, error) from error
    try:
        return Bench.model_validate(document, context={"folder": path.absolute().parent})
    except ValidationError as error:
        raise _not_valid(path, found, error) from error


def _text_of(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
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
    return BadSettings(f"{path}, line {number}: not understood as TOML: {shown!r} ({message})")


def _not_valid(path: Path, found: list[Statement], error: ValidationError) -> BadSettings:
    # A misspelt key also leaves the right one missing: tell of the misspelling first.
    details = sorted(
        error.errors(include_url=False), key=lambda one: one["type"] != "extra_forbidden"
    )
    place, message = _explained(details[0])
    line = line_of(found, place)
    where = f"{path}" if line is None else f"{path}, line {line}"
    more = f" (and {len(details) - 1} more)" if len(details) > 1 else ""
    return BadSettings(f"{where}: {message}{more}")


def _explained(detail: ErrorDetails) -> tuple[KeyPath, str]:
    """Where one mistake is, and what is wrong in words."""
    context: Mapping[str, object] = detail.get("ctx", {})
    place = tuple(str(part) for part in detail["loc"] if part != "[key]")
    key = place[-1] if place else "the file"
    match detail["type"]:
        case "extra_forbidden":
            return place, _unknown(place, isinstance(detail["input"], dict))
        case "missing":
            if key.isdigit():
                return place[:-1], f"{_dotted(place[:-1])} must be {A_WINDOW}"
            return place, _missing(place)
        case "value_error":
            return place, f"{_dotted(place)}: {detail['msg'].removeprefix('Value error, ')}"
        case "cross_check":
            at = context["at"]
            assert isinstance(at, tuple)
            return at, f"{_dotted(at)}: {detail['msg']}"
        case "too_short":
            return place, f"{key}: name at least one, as in [{key}.NAME]"
        case "enum":
            close = nearest(str(detail["input"]), str(context["expected"]).split("'"))
            hint = f"; did you mean '{close}'?" if close else ""
            must = f"must be {context['expected']}, not {detail['input']!r}{hint}"
            return place, f"{_dotted(place)} {must}"
        case "tuple_type" | "too_long":
            return place, f"{_dotted(place)} must be {A_WINDOW}"
        case "dict_type" | "model_type":
            return place, f"{_dotted(place)} must be a table, as in [{_dotted(place)}]"
        case "path_type":
            return place, f"{_dotted(place)} must be the name of a file, in quotes"
        case _:
            must = detail["msg"].replace("Input should be", "must be")
            return place, f"{_dotted(place)} {must}, not {detail['input']!r:.60}"


def _missing(place: KeyPath) -> str:
    if len(place) == 1:
        return f"the table [{place[0]}.NAME] is missing; describe at least one"
    return f"{place[-1]} is missing in [{_dotted(place[:-1])}]"


def _unknown(place: KeyPath, is_table: bool) -> str:
    """What is wrong with a key or table that nobody knows there."""
    *table, key = place
    where = f"in [{_dotted(tuple(table))}]" if table else "at the top"
    home = [name for name, fields in _tables().items() if key in fields and not is_table]
    if home:
        return f"{key} is not known {where}; it belongs in {' or '.join(home)}"
    valid = _fields_at(table)
    close = nearest(key, valid)
    hint = f"did you mean {close}?" if close else f"known there: {', '.join(valid)}"
    return f"{key} is not known {where}; {hint}"


def _fields_at(table: list[str]) -> list[str]:
    """The keys known in one table of the file; those of the top where there is none such."""
    model: type[BaseModel] | None = Bench
    parts = iter(table)
    for part in parts:
        field = None if model is None else model.model_fields.get(part)
        if field is None:
            return list(Bench.model_fields)
        model, is_named = _table_of(field.annotation)
        if is_named:
            next(parts, None)
    return list((model or Bench).model_fields)


def _tables(model: type[BaseModel] = Bench, above: str = "") -> dict[str, list[str]]:
    """The keys of every table that bench.toml may hold, such as {"[forecast]": ["horizon_s"]}."""
    tables = {}
    for name, field in model.model_fields.items():
        inner, is_named = _table_of(field.annotation)
        if inner is not None:
            title = f"{above}{name}.NAME" if is_named else f"{above}{name}"
            tables[f"[{title}]"] = list(inner.model_fields)
            tables |= _tables(inner, f"{title}.")
    return tables


def _table_of(annotation: object) -> tuple[type[BaseModel] | None, bool]:
    """The model of a table, and whether there are several of it, each with a name."""
    kinds = [annotation, *get_args(annotation)]
    for kind in kinds:
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            return kind, get_origin(annotation) is dict
    return None, False


def _dotted(place: KeyPath) -> str:
    """A path as TOML writes it."""
    return ".".join(part if re.fullmatch(r"[\w-]+", part) else f'"{part}"' for part in place)
