"""A run's stored settings and a place in them in, the number there out."""

import json


def kept_number(settings: str, *names: str) -> float | None:
    """A number out of `RunFacts.settings`; None where there is none at that place.

    Examples
    --------
    >>> kept_number('{"in_force": {"limit_amps": 10.0}}', "in_force", "limit_amps")
    10.0
    >>> kept_number("{}", "bench", "baths", "north tank", "holds_litres")
    """
    try:
        found: object = json.loads(settings)
    except ValueError:
        return None
    for name in names:
        found = found.get(name) if isinstance(found, dict) else None
    return float(found) if isinstance(found, int | float) else None
