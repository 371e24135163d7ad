"""A run's stored settings and a place in them in, what stands there out.

The settings lie in the store as a text, and a store may be anybody's: whatever is not of the form
counts as nothing kept.
"""

import json
from collections.abc import Mapping


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
        found: object = json.loads(settings)
    except (ValueError, RecursionError):
        return {}
    for name in names:
        found = found.get(name) if isinstance(found, dict) else None
    return found if isinstance(found, dict) else {}


def kept_number(settings: str, *names: str) -> float | None:
    """A number out of `RunFacts.settings`; None where there is none at that place.

    Examples
    --------
    >>> kept_number('{"in_force": {"limit_amps": 10.0}}', "in_force", "limit_amps")
    10.0
    >>> kept_number("{}", "bench", "baths", "north tank", "holds_litres")
    """
    return number_of(kept_table(settings, *names[:-1]).get(names[-1]))


def number_of(value: object) -> float | None:
    """A value as a number; None for what is none, such as a whole one of hundreds of digits.

    Examples
    --------
    >>> number_of(4), number_of("4"), number_of(10**400)
    (4.0, None, None)
    """
    try:
        return float(value) if isinstance(value, int | float) else None
    except OverflowError:
        return None
