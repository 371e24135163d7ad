"""The tables of a TOML file as frozen models; a mistake in one becomes one line with its cure.

bench.toml, the descriptions of supplies and the answers of `bathvigil commission` are read by it.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import Annotated, TypeAlias, get_args, get_origin, get_type_hints

from pydantic import AfterValidator, BaseModel, ConfigDict, ValidationError
from pydantic_core import ErrorDetails, PydanticCustomError

from drivers.base.inert import inert
from drivers.base.nearest import nearest

KeyPath: TypeAlias = tuple[str | int, ...]
"""Where something stands in a file: keys, and places in a list counted from 0."""
_LONGEST = 60
_UNKNOWN = ("extra_forbidden", "unexpected_keyword_argument")


class Table(BaseModel):
    """Strict: no key is passed over, and no text is taken for a number."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


def must(what: str) -> PydanticCustomError:
    """The error of a value that cannot be used, such as `must("must not be 0")`."""
    return PydanticCustomError("must", "{what}", {"what": what})


def mistake_at(place: KeyPath, what: str) -> PydanticCustomError:
    """The error of two values that do not agree; `place` is one of them."""
    return PydanticCustomError("cross_check", "{what}", {"at": place, "what": what})


def _not_empty(text: str) -> str:
    if not text.strip():
        raise must("must be a text that is not empty")
    return text


Text: TypeAlias = Annotated[str, AfterValidator(_not_empty)]


def _printable(name: str) -> str:
    if not name.strip() or not name.isprintable() or len(name) > 40:
        raise ValueError("a name needs 1 to 40 printable characters")
    return name


Name: TypeAlias = Annotated[str, AfterValidator(_printable)]
"""A name that people give."""


def first_mistake(error: ValidationError, model: type[BaseModel]) -> tuple[KeyPath, str]:
    """The first mistake to show: its place, and what is wrong with the cure.

    Parameters
    ----------
    model
        The model of the whole file.
    """
    # A misspelt key also leaves the right one missing: tell of the misspelling first.
    details = sorted(
        error.errors(include_url=False), key=lambda detail: detail["type"] not in _UNKNOWN
    )
    place, what = _explained(details[0], model)
    return place, what if len(details) == 1 else f"{what} (and {len(details) - 1} more)"


def dotted(place: KeyPath) -> str:
    """A place as TOML writes it; a place in a list is counted from 1.

    >>> dotted(("baths", "north tank", "litres")), dotted(("status", 0, "ask"))
    ('baths."north tank".litres', 'status[1].ask')
    """
    text = ""
    for part in place:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            key = part if re.fullmatch(r"[\w-]+", part) else f'"{inert(part, _LONGEST)}"'
            text += f".{key}" if text else key
    return text


def _explained(detail: ErrorDetails, model: type[BaseModel]) -> tuple[KeyPath, str]:
    place = tuple(part for part in detail["loc"] if part != "[key]")
    context: Mapping[str, object] = detail.get("ctx", {})
    match detail["type"]:
        case "extra_forbidden" | "unexpected_keyword_argument":
            return place, _unknown(place, isinstance(detail["input"], dict), model)
        case "missing" if isinstance(place[-1], str):
            return place, _missing(place, model)
        case "missing" | "tuple_type" | "too_long":
            place = place[:-1] if isinstance(place[-1], int) else place
            must_be = "must be a lowest and a highest value, as in [6.0, 12.0]"
            return place, f"{dotted(place)} {must_be}"
        case "cross_check":
            table = context["at"]
            assert isinstance(table, tuple)
            return table, f"{dotted(table)}: {detail['msg']}"
        case "value_error":
            return place, f"{dotted(place)}: {detail['msg'].removeprefix('Value error, ')}"
        case "too_short":
            return place, f"{dotted(place)}: name at least one, as in [{dotted(place)}.NAME]"
    name = dotted(place) or "the file"
    return place, f"{name} {_must_be(detail, context, place, model)}"


def _must_be(
    detail: ErrorDetails, context: Mapping[str, object], place: KeyPath, model: type[BaseModel]
) -> str:
    shown = _shown(detail["input"])
    match detail["type"]:
        case "must":
            return detail["msg"]
        case "greater_than":
            return f"must be over {context['gt']:g}, not {shown}"
        case "greater_than_equal":
            return f"must be at least {context['ge']:g}, not {shown}"
        case "less_than_equal":
            return f"must be at most {context['le']:g}, not {shown}"
        case "finite_number":
            return f"must be a finite number, not {shown}"
        case "float_type":
            return f"must be a number, not {shown}"
        case "int_type" | "int_from_float":
            return f"must be a whole number, not {shown}"
        case "bool_type":
            return f"must be true or false, not {shown}"
        case "string_type":
            return f"must be a text in quotes, not {shown}"
        case "string_too_short":
            return f"must have at least {context['min_length']} characters"
        case "string_too_long":
            return f"must have at most {context['max_length']} characters"
        case "path_type":
            return "must be the name of a file, in quotes"
        case "enum" | "literal_error":
            close = nearest(str(detail["input"]), re.findall("'(.*?)'", str(context["expected"])))
            hint = f"; did you mean '{close}'?" if close else ""
            return f"must be {context['expected']}, not {shown}{hint}"
        case "dict_type" | "model_type":
            header = dotted(place)
            is_listed = bool(place) and isinstance(place[-1], int)
            written = f"[[{dotted(place[:-1])}]]" if is_listed else f"[{header}]"
            return f"must be a table, as in {written}"
        case "list_type":
            if any(title == f"[[{dotted(place)}]]" for title in tables_of(model)):
                return f"must be tables, each written [[{dotted(place)}]]"
            return f"must be a list, as in [1, 4], not {shown}"
    return f"{detail['msg'].replace('Input should be', 'must be')}, not {shown}"


def _shown(value: object) -> str:
    """A value as TOML writes it, or nearly so."""
    return str(value).lower() if isinstance(value, bool) else inert(repr(value), _LONGEST)


def _missing(place: KeyPath, model: type[BaseModel]) -> str:
    *table, key = place
    if any(title == f"[{key}.NAME]" for title in tables_of(model)) and not table:
        return f"the table [{key}.NAME] is missing; describe at least one"
    return f"{key} is missing {_where(table)}"


def _unknown(place: KeyPath, is_table: bool, model: type[BaseModel]) -> str:
    """What is wrong with a key or table that is not known there."""
    *table, key = place
    shown = inert(str(key), _LONGEST)
    home = [name for name, keys in tables_of(model).items() if key in keys and not is_table]
    if home:
        return f"{shown} is not known {_where(table)}; it belongs in {' or '.join(home)}"
    valid = _keys_at(table, model)
    close = nearest(str(key), valid)
    hint = f"did you mean {close}?" if close else f"known there: {', '.join(valid)}"
    return f"{shown} is not known {_where(table)}; {hint}"


def _where(table: Sequence[str | int]) -> str:
    if not table:
        return "at the top"
    *above, last = table
    if isinstance(last, int):
        return f"in [[{dotted(tuple(above))}]] number {last + 1}"
    return f"in [{dotted(tuple(table))}]"


def _keys_at(table: Sequence[str | int], model: type[BaseModel]) -> list[str]:
    """The keys known in one table of the file; those of the top where there is none such."""
    place: type | None = model
    parts = iter(part for part in table if isinstance(part, str))
    for part in parts:
        known = {} if place is None else _fields(place)
        if part not in known:
            return list(model.model_fields)
        place, kind = _table_of(known[part])
        if kind is dict:
            next(parts, None)
    return list(_fields(place or model))


def tables_of(model: type[BaseModel]) -> dict[str, list[str]]:
    """The keys of every table that the file may hold, such as {"[forecast]": ["horizon_s"]}."""
    return dict(_each_table(model, ""))


def _each_table(model: type, above: str) -> Iterator[tuple[str, list[str]]]:
    for name, annotation in _fields(model).items():
        inner, kind = _table_of(annotation)
        if inner is not None:
            title = f"{above}{name}.NAME" if kind is dict else f"{above}{name}"
            yield f"[[{title}]]" if kind in (list, tuple) else f"[{title}]", list(_fields(inner))
            yield from _each_table(inner, f"{title}.")


def _table_of(annotation: object) -> tuple[type | None, object]:
    """The class of a table, and whether it stands there alone, in a dict or in a list."""
    for kind in (annotation, *get_args(annotation)):
        if isinstance(kind, type) and (issubclass(kind, BaseModel) or is_dataclass(kind)):
            return kind, get_origin(annotation)
    return None, None


def _fields(table: type) -> dict[str, object]:
    if issubclass(table, BaseModel):
        return {name: field.annotation for name, field in table.model_fields.items()}
    assert is_dataclass(table)
    hints = get_type_hints(table)
    return {field.name: hints[field.name] for field in fields(table)}
