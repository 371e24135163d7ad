"""A misspelt name and the valid ones in, the words that help out."""

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
    close = get_close_matches(name.lower(), names, n=1, cutoff=0.5)
    return f"did you mean {close[0]!r}? ({listed})" if close else listed
