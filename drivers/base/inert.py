"""Makes foreign text safe to show: it cannot steer a terminal, a log or markup."""

from unicodedata import category

LIMIT = 120


def harmless(text: str) -> str:
    r"""The same for a whole output: lines, tabs and wide or hard spaces stay, nothing is cut.

    >>> harmless("bench" + chr(155) + "2J\n")
    'bench<9B>2J\n'
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() or _is_room(c) else f"<{ord(c):02X}>" for c in text)


def _is_room(c: str) -> bool:
    return c in "\n\t" or category(c) == "Zs"


def inert(text: str, limit: int = LIMIT) -> str:
    """Make foreign text safe to show: whatever does not print becomes a visible mark.

    Control characters (C0, DEL, C1), line and paragraph separators, text-direction overrides
    and other invisible characters are shown as their number in angle brackets; what is longer
    than `limit` characters is cut and ends in "...".

    Examples
    --------
    >>> inert("PSU" + chr(27) + "[2J")
    'PSU<1B>[2J'
    >>> inert("a" * 10, limit=8)
    'aaaaa...'
    """
    shown = "".join(c if c.isprintable() else f"<{ord(c):02X}>" for c in text[: limit + 1])
    return shown if len(shown) <= limit else shown[: max(limit - 3, 0)] + "..."
