"""What the terminal can draw: braille dots, blocks, or plain ASCII; chosen from the environment."""

import locale
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from tui.ink import Line, fit

PLAIN = ("C", "POSIX")


class GlyphName(StrEnum):
    """The three sets; one key goes round them."""

    BRAILLE = "braille"
    BLOCK = "block"
    ASCII = "ascii"


@dataclass(frozen=True, slots=True)
class Glyphs:
    """The characters of one set.

    Parameters
    ----------
    across, down
        Points of the chart within one character.
    full, upper, lower
        A whole cell and its halves, for big letters and bars; without halves, all the same.
    halves
        Whether `upper` and `lower` are real.
    shade, rule, upright, dot
        The forecast's hatch, a level line, an upright line, a small point.
    """

    name: GlyphName
    across: int
    down: int
    full: str
    upper: str
    lower: str
    halves: bool
    shade: str
    rule: str
    upright: str
    dot: str

    def text(self, text: str) -> str:
        """Text as this set can show it: unchanged, or in ASCII with accents taken off."""
        if self.name is not GlyphName.ASCII or text.isascii():
            return text
        plain = unicodedata.normalize("NFKD", text)
        plain = "".join(char for char in plain if not unicodedata.combining(char))
        return plain.encode("ascii", "backslashreplace").decode("ascii")

    def line(self, line: Line, width: int) -> Line:
        """A line of a screen as this set can show it, whoever forgot to ask for its text."""
        if self.name is not GlyphName.ASCII or all(text.isascii() for text, _ in line):
            return line
        return fit(tuple((self.text(text), ink) for text, ink in line), width)


BRAILLE = Glyphs(GlyphName.BRAILLE, 2, 4, "█", "▀", "▄", True, "░", "─", "│", "·")
BLOCK = Glyphs(GlyphName.BLOCK, 1, 2, "█", "▀", "▄", True, "░", "─", "│", "·")
ASCII = Glyphs(GlyphName.ASCII, 1, 1, "#", "#", "#", False, ":", "-", "|", ".")

SETS = {glyphs.name: glyphs for glyphs in (BRAILLE, BLOCK, ASCII)}


def next_set(glyphs: Glyphs) -> Glyphs:
    """The set that comes after this one when the operator switches."""
    names = list(SETS)
    return SETS[names[(names.index(glyphs.name) + 1) % len(names)]]


def suitable(environ: Mapping[str, str]) -> Glyphs:
    """The richest set that a terminal with this environment can be trusted with.

    Examples
    --------
    >>> suitable({"TERM": "xterm-256color", "LANG": "en_US.UTF-8"}).name.value
    'braille'
    >>> suitable({"TERM": "linux", "LANG": "en_US.UTF-8"}).name.value
    'block'
    >>> suitable({"TERM": "xterm", "LANG": "C"}).name.value
    'ascii'
    """
    spoken = environ.get("LC_ALL") or _kind_of_text(environ) or environ.get("LANG") or "C"
    encoding = spoken.partition(".")[2].partition("@")[0].replace("-", "").lower()
    if not encoding and spoken not in PLAIN:
        encoding = locale.normalize(spoken).partition(".")[2].replace("-", "").lower()
    if encoding != "utf8":
        return ASCII
    term = environ.get("TERM", "")
    if term in ("", "dumb", "unknown") or term.startswith("vt"):
        return ASCII
    return BLOCK if term.startswith("linux") else BRAILLE


def _kind_of_text(environ: Mapping[str, str]) -> str:
    # Python itself puts C.UTF-8 there where the locale is C (PEP 538); the terminal knows nothing.
    told = environ.get("LC_CTYPE", "")
    is_pythons_own = told in ("C.UTF-8", "C.utf8") and environ.get("LANG", "") in ("", *PLAIN)
    return "" if is_pythons_own else told
