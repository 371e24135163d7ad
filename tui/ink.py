"""Lines of inked text, the stuff that every panel returns; no terminal and no colour in here.

A line is a row of pieces; a piece is text and what it is (`Ink`). What an ink looks like is
decided in `tui.palette`, so that a panel says "abnormal, high" and never "orange".
"""

import textwrap
from collections.abc import Iterable, Sequence
from enum import Enum, auto
from itertools import zip_longest

from rich.cells import cell_len, set_cell_size

from drivers.base.inert import inert
from monitor.model.alarm import Priority


class Ink(Enum):
    """What a piece of text is."""

    PLAIN = auto()
    FAINT = auto()
    STRONG = auto()
    KEY = auto()
    ASKED = auto()
    BAND = auto()
    CRITICAL = auto()
    HIGH = auto()
    MEDIUM = auto()
    LOW = auto()
    CRITICAL_BAND = auto()
    HIGH_BAND = auto()
    MEDIUM_BAND = auto()
    LOW_BAND = auto()


Piece = tuple[str, Ink]
Line = tuple[Piece, ...]

TEXT_INK = {
    Priority.CRITICAL: Ink.CRITICAL,
    Priority.HIGH: Ink.HIGH,
    Priority.MEDIUM: Ink.MEDIUM,
    Priority.LOW: Ink.LOW,
}
BAND_INK = {
    Priority.CRITICAL: Ink.CRITICAL_BAND,
    Priority.HIGH: Ink.HIGH_BAND,
    Priority.MEDIUM: Ink.MEDIUM_BAND,
    Priority.LOW: Ink.LOW_BAND,
}


def text_ink(priority: Priority | None) -> Ink:
    """Ink for words about something of this priority; strong grey where nothing is abnormal."""
    return Ink.STRONG if priority is None else TEXT_INK[priority]


def band_ink(priority: Priority | None) -> Ink:
    """Ink for the band behind the state word."""
    return Ink.BAND if priority is None else BAND_INK[priority]


def plain(line: Line) -> str:
    """The text of a line, without its inks."""
    return "".join(text for text, _ in line)


def width_of(line: Line) -> int:
    """Columns that a line takes."""
    return sum(cell_len(text) for text, _ in line)


def fit(line: Line, width: int, ink: Ink = Ink.PLAIN) -> Line:
    """The line, cut or filled with blanks to exactly this many columns.

    What could move the cursor or turn the writing is made visible, whoever forgot it before.
    """
    pieces: list[Piece] = []
    room = width
    for text, piece_ink in line:
        if room <= 0:
            break
        if not text.isprintable():
            text = inert(text)
        taken = cell_len(text)
        if taken > room:
            text, taken = set_cell_size(text, room), room
        pieces.append((text, piece_ink))
        room -= taken
    if room > 0:
        pieces.append((" " * room, ink))
    return tuple(pieces)


def fit_all(lines: Iterable[Line], width: int, height: int, ink: Ink = Ink.PLAIN) -> list[Line]:
    """Exactly `height` lines of `width` columns: cut, or filled with blank ones."""
    kept = [fit(line, width, ink) for line in lines][:height]
    return kept + [fit((), width, ink)] * (height - len(kept))


def between(left: Line, right: Line, width: int, ink: Ink = Ink.PLAIN) -> Line:
    """One line with one part at its left end and one at its right; the left part wins."""
    room = width - width_of(left) - width_of(right)
    return fit((*left, (" " * room, ink), *right) if room > 0 else left, width, ink)


def beside(
    left: Sequence[Line], right: Sequence[Line], left_width: int, width: int, ink: Ink = Ink.PLAIN
) -> list[Line]:
    """Two blocks of lines side by side."""
    return [
        (*fit(a, left_width, ink), *fit(b, width - left_width, ink))
        for a, b in zip_longest(left, right, fillvalue=())
    ]


def clipped(text: str, width: int) -> str:
    """Text that says by two points that it is longer than this many columns.

    >>> clipped("strip handlebar in the north tank", 20)
    'strip handlebar in..'
    """
    return text if cell_len(text) <= width or width < 3 else set_cell_size(text, width - 2) + ".."


def wrapped(text: str, width: int, ink: Ink = Ink.PLAIN, hang: str = "") -> list[Line]:
    """Text broken into lines of at most this width; further lines start with `hang`."""
    if width <= len(hang) + 1:
        return [((text, ink),)]
    rows = textwrap.wrap(text, width, subsequent_indent=hang, break_on_hyphens=False)
    return [((row, ink),) for row in rows]
