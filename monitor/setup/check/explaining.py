"""Every setting of bench.toml with its unit, default and meaning, in order.

Nothing is written twice: meanings come from the docstrings of the models, which a test holds
complete.
"""

import inspect
import re
from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from typing import TypeGuard, get_args

from annotated_types import Ge, GroupedMetadata, Gt, Le, Lt
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from monitor.settings import Bench

_UNITS = (
    (re.compile(r"_per_s$"), "1/s"),
    (re.compile(r"(^|_)amps_per_dm2$"), "A/dm2"),
    (re.compile(r"(^|_)grams_per_litre$"), "g/L"),
    (re.compile(r"(^|_)amp_hours$"), "Ah"),
    (re.compile(r"^per_kelvin$"), "1/K"),
    (re.compile(r"(^|_)s$"), "s"),
    (re.compile(r"(^|_)minutes$"), "min"),
    (re.compile(r"(^|_)amps$"), "A"),
    (re.compile(r"(^|_)volts$"), "V"),
    (re.compile(r"(^|_)celsius$"), "C"),
    (re.compile(r"(^|_)litres$"), "L"),
    (re.compile(r"(^|_)metres$"), "m"),
    (re.compile(r"(^|_)micrometres$"), "um"),
    (re.compile(r"(^|_)awg$"), "AWG"),
    (re.compile(r"_cm2$"), "cm2"),
    (re.compile(r"_dm2$"), "dm2"),
)
"""The ends of names that say a unit; the first that fits."""
_ENTRY = re.compile(r"^([a-z_0-9]+(?:, [a-z_0-9]+)*)$")


@dataclass(frozen=True, slots=True)
class Setting:
    """One key of bench.toml.

    Parameters
    ----------
    table
        As it is written, such as "[supplies.NAME]".
    unit
        "" for what has none.
    default
        As TOML writes it; None where the key must be there.
    allowed
        Such as "10 to 3600" or '"trips", "holds"'; "" where nothing is said but the type.
    """

    table: str
    key: str
    unit: str
    default: str | None
    meaning: str
    allowed: str = ""


def explained_settings(model: type[BaseModel] = Bench) -> list[Setting]:
    """Every setting that there is.

    Examples
    --------
    >>> one = next(each for each in explained_settings() if each.key == "horizon_s")
    >>> one.table, one.unit, one.default
    ('[forecast]', 's', '120')
    """
    return [
        setting
        for name, field in model.model_fields.items()
        for table, part in _models(name, field)
        for setting in _settings(table, part)
    ]


def _models(name: str, field: FieldInfo) -> Iterator[tuple[str, type[BaseModel]]]:
    """The tables behind one key of a model: itself, or one for each name of the user's."""
    if _is_model(field.annotation):
        yield f"[{name}]", field.annotation
        return
    for kind in get_args(field.annotation):
        if _is_model(kind):
            is_optional = type(None) in get_args(field.annotation)
            yield f"[{name}]" if is_optional else f"[{name}.NAME]", kind


def _is_model(kind: object) -> TypeGuard[type[BaseModel]]:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def _settings(table: str, model: type[BaseModel]) -> Iterator[Setting]:
    meanings = _meanings(model)
    for key, field in model.model_fields.items():
        inner = list(_models(key, field))
        if inner:
            for name, part in inner:
                yield from _settings(f"[{table.strip('[]')}.{name.strip('[]')}]", part)
            continue
        meaning = field.description or meanings.get(key) or _summary(model)
        yield Setting(table, key, _unit(key), _default(field), meaning, _allowed(field))


def _meanings(model: type[BaseModel]) -> dict[str, str]:
    """The entries under "Parameters" of a docstring in numpy's form."""
    _, _, parameters = inspect.getdoc(model).partition("----------\n")  # type: ignore[union-attr]  # every model has one: a test checks it
    texts: dict[tuple[str, ...], str] = {}
    names: tuple[str, ...] = ()
    for line in parameters.splitlines():
        if match := _ENTRY.match(line):
            names = tuple(match[1].split(", "))
        elif line.startswith("    "):
            texts[names] = f"{texts.get(names, '')} {line.strip()}".strip()
        elif line.strip():
            break
    meanings: dict[str, str] = {}
    for names, text in texts.items():
        parts = text.split("; ")
        each = parts if len(parts) == len(names) else [text] * len(names)
        meanings.update(zip(names, each, strict=True))
    return meanings


def _summary(model: type[BaseModel]) -> str:
    """What a table's docstring says behind its name."""
    first = (inspect.getdoc(model) or "").partition("\n\n")[0]
    return " ".join(first.split()).partition("`: ")[2] or " ".join(first.split())


def _allowed(field: FieldInfo) -> str:
    """The bounds of a number, or the words of a choice."""
    kind = field.annotation
    if isinstance(kind, type) and issubclass(kind, Enum):
        return ", ".join(f'"{member.value}"' for member in kind)
    if kind is bool:
        return "true, false"
    bounds = {type(bound): bound for bound in _bounds(field)}
    low = bounds.get(Ge) or bounds.get(Gt)
    high = bounds.get(Le) or bounds.get(Lt)
    if not isinstance(low, Ge | Gt) or not isinstance(high, Le | Lt):
        return ""
    least = _number(low.ge) if isinstance(low, Ge) else f"over {_number(low.gt)}"
    most = _number(high.le) if isinstance(high, Le) else f"under {_number(high.lt)}"
    return f"{least} to {most}"


def _bounds(field: FieldInfo) -> Iterator[object]:
    """The bounds of a number, also of one that may be left out."""
    for kind in (field.annotation, *get_args(field.annotation)):
        for bound in (*field.metadata, *get_args(kind)):
            yield from bound if isinstance(bound, GroupedMetadata) else (bound,)


def _number(bound: object) -> str:
    whole = str(bound)
    return whole.removesuffix(".0")


def _unit(key: str) -> str:
    return next((unit for pattern, unit in _UNITS if pattern.search(key)), "")


def _default(field: FieldInfo) -> str | None:
    if field.is_required():
        return None
    value: object = field.get_default(call_default_factory=True, validated_data={})
    if value is None:
        return "none"
    if isinstance(value, Enum):
        value = value.value
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return f"{value:g}"
    return f'"{value}"' if isinstance(value, str) else str(value)
