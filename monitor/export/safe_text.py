"""Text in a table's cell that no spreadsheet takes for a formula.

Only for text: numbers are written from numbers, so that -0.02 stays -0.02.
"""

import re

_FORMULA = re.compile(r"'*[=+\-@\t\r\n＝＋－＠]")
"""What begins a formula (OWASP, "CSV Injection"), and what `safe_text` makes of it."""


def safe_text(text: str) -> str:
    """Put an apostrophe before text that would be taken for a formula.

    Examples
    --------
    >>> safe_text("=cmd|' /C calc'!A0"), safe_text("-2+3"), safe_text("no answer")
    ("'=cmd|' /C calc'!A0", "'-2+3", 'no answer')
    """
    return f"'{text}" if _FORMULA.match(text) else text


def plain_text(text: str) -> str:
    """Undo `safe_text`."""
    return text[1:] if text.startswith("'") and _FORMULA.match(text) else text
