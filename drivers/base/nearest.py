"""Suggests the right name for a misspelt one."""

from collections.abc import Iterable
from difflib import get_close_matches


def nearest_hint(name: str, valid: Iterable[str]) -> str:
    """What to write behind "unknown ...": the nearest valid name, or all of them.

    Examples
    --------
    >>> nearest_hint("buad", ["baud", "parity"])
    "did you mean 'baud'? (valid: baud, parity)"
    >>> nearest_hint("x", ["baud", "parity"])
    'valid: baud, parity'
    """
    names = sorted(valid)
    listed = f"valid: {', '.join(names) or 'none'}"
    close = nearest(name, names)
    return listed if close is None else f"did you mean {close!r}? ({listed})"


def nearest(name: str, valid: Iterable[str]) -> str | None:
    """The valid name that is most like `name`, whatever the case; None where none is."""
    by_lower = {each.lower(): each for each in valid}
    close = get_close_matches(name.lower(), by_lower, n=1, cutoff=0.5)
    return by_lower[close[0]] if close else None
