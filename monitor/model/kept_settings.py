"""The settings that a stored run keeps: the limits when it began, and bench.toml's own.

The settings lie in the store as JSON, and a store may be anybody's: whatever is not of the form
counts as nothing kept.
"""

import json
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

from monitor.model.fittings import Fittings
from monitor.model.step import STRIP, JobStep

if TYPE_CHECKING:
    from pydantic import TypeAdapter


def kept_table(settings: str, *names: str) -> Mapping[str, object]:
    """A table out of `RunFacts.settings`; empty where there is none at that place.

    Examples
    --------
    >>> kept_table('{"in_force": {"limit_amps": 10.0}}', "in_force")
    {'limit_amps': 10.0}
    >>> kept_table("rubbish", "in_force")
    {}
    """
    try:
        table: object = json.loads(settings)
    except (ValueError, RecursionError):
        return {}
    if isinstance(table, dict) and isinstance(flat := table.get("in_force"), dict):
        table["in_force"] = _nested(flat)
    for name in names:
        table = table.get(name) if isinstance(table, dict) else None
    return table if isinstance(table, dict) else {}


def kept_number(settings: str, *names: str) -> float | None:
    """A number out of `RunFacts.settings`; None where there is none at that place.

    Examples
    --------
    >>> kept_number('{"in_force": {"limit_amps": 10}}', "in_force", "limit_amps")
    10.0
    >>> kept_number("{}", "bench", "baths", "north tank", "holds_litres")
    """
    value = kept_table(settings, *names[:-1]).get(names[-1])
    try:
        return float(value) if isinstance(value, int | float) else None
    except OverflowError:  # a whole number of hundreds of digits
        return None


def kept_fittings(settings: str) -> Fittings:
    """What the amps went through when the run began; the usual where the run does not say.

    Examples
    --------
    >>> kept = '{"in_force": {"fittings": {"steps": [{"name": "rinse"}], "window": null}}}'
    >>> [step.name for step in kept_fittings(kept).steps], kept_fittings(kept).window
    (['rinse'], None)
    >>> [step.name for step in kept_fittings("{}").steps]
    ['clean', 'strip']
    """
    table = kept_table(settings, "in_force", "fittings")
    try:
        fittings = _reader().validate_python(table)
    except ValueError:
        return Fittings()
    window = fittings.window
    if not table.get("steps") and table.get("window") and window is not None:
        # From before there were steps.
        strip = JobStep(STRIP, (window.lowest_volts, window.highest_volts))
        return replace(fittings, steps=(strip,))
    return fittings


def baths_offered(settings: str) -> tuple[str, ...]:
    """The names of the bench's baths.

    >>> baths_offered('{"bench": {"baths": {"north tank": {"litres": 9.0}}}}')
    ('north tank',)
    """
    return tuple(kept_table(settings, "bench", "baths"))


@cache
def _reader() -> "TypeAdapter[Fittings]":
    # Late, since whoever shows a run without fittings need not wait for pydantic.
    from pydantic import TypeAdapter

    return TypeAdapter(Fittings)


def _nested(flat: dict[str, object]) -> dict[str, object]:
    """Today's form of limits that an earlier program kept under dotted names.

    >>> _nested({"limit_kind": "limits", "fittings.steps.0.name": "rinse"})
    {'at_limit': 'holds', 'fittings': {'steps': [{'name': 'rinse'}]}}
    """
    if (kind := flat.pop("limit_kind", None)) is not None:
        flat = {"at_limit": "holds" if kind == "limits" else kind, **flat}
    tables: dict[str, object] = {}
    for name, value in flat.items():
        place = tables
        *above, last = name.split(".")
        for part in above:
            inner = place.setdefault(part, {})
            if not isinstance(inner, dict):
                return {}
            place = inner
        place[last] = value
    return {name: _with_lists(value) for name, value in tables.items()}


def _with_lists(value: object) -> object:
    if not isinstance(value, dict):
        return value
    inner = {name: _with_lists(part) for name, part in value.items()}
    if inner and list(inner) == [str(number) for number in range(len(inner))]:
        return list(inner.values())
    return inner
