"""Text from supplies and users made harmless for a terminal: nothing in it can move or colour.

Control characters, escape sequences and marks that turn the direction of writing become visible
as `<1b>`, `<202e>`; too much text is cut.
"""

import unicodedata

LONGEST = 200


def inert(text: str, longest: int = LONGEST) -> str:
    """The text with everything that is not a plain printable character shown as its number.

    Examples
    --------
    >>> inert("bench\\x1b[31m-1"), inert("a\\u202eb"), inert("x" * 300, 5)
    ('bench<1b>[31m-1', 'a<202e>b', 'xxxxx...')
    """
    cut = text[:longest]
    shown = "".join(char if _is_harmless(char) else f"<{ord(char):02x}>" for char in cut)
    return shown + "..." if len(text) > longest else shown


def _is_harmless(char: str) -> bool:
    return char == " " or unicodedata.category(char)[0] in "LNPS"
