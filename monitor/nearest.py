"""A misspelt name and the valid ones in, the one that was probably meant out."""

from collections.abc import Iterable
from difflib import get_close_matches


def nearest(name: str, valid: Iterable[str]) -> str | None:
    """The valid name that looks most like `name`; None where none does.

    Examples
    --------
    >>> nearest("limit_amp", ["limit_amps", "limit_kind"])
    'limit_amps'
    >>> nearest("Bench-1", ["bench-1", "bench-2"])
    'bench-1'
    >>> nearest("xyz", ["limit_amps", "limit_kind"]) is None
    True
    """
    names = {one.casefold(): one for one in valid}
    close = get_close_matches(name.casefold(), names, n=1, cutoff=0.6)
    return names[close[0]] if close else None
