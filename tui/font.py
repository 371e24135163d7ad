"""Big letters, readable from three metres: a pixel font of our own, five pixels high.

A pixel is one column wide and half a row high, so letters keep their shape in half blocks. The
plain form has no half rows; there the letters need twice the size, two columns by one row a pixel.
"""

from dataclasses import dataclass
from functools import lru_cache

from tui.glyphs import Glyphs

HEIGHT = 5

_ART = """
A .##. #..# #### #..# #..#
B ###. #..# ###. #..# ###.
C .### #... #... #... .###
D ###. #..# #..# #..# ###.
E #### #... ###. #... ####
F #### #... ###. #... #...
G .### #... #.## #..# .###
H #..# #..# #### #..# #..#
I # # # # #
J ...# ...# ...# #..# .##.
K #..# #.#. ##.. #.#. #..#
L #... #... #... #... ####
M #...# ##.## #.#.# #...# #...#
N #..# ##.# #.## #..# #..#
O .##. #..# #..# #..# .##.
P ###. #..# ###. #... #...
Q .##. #..# #..# #.## .###
R ###. #..# ###. #.#. #..#
S .### #... .##. ...# ###.
T ##### ..#.. ..#.. ..#.. ..#..
U #..# #..# #..# #..# .##.
V #...# #...# .#.#. .#.#. ..#..
W #...# #...# #.#.# ##.## #...#
X #..# #..# .##. #..# #..#
Y #...# .#.#. ..#.. ..#.. ..#..
Z #### ...# .##. #... ####
0 .##. #..# #..# #..# .##.
1 .# ## .# .# .#
2 ###. ...# .##. #... ####
3 ###. ...# .##. ...# ###.
4 #..# #..# #### ...# ...#
5 #### #... ###. ...# ###.
6 .##. #... ###. #..# .##.
7 #### ...# ..#. .#.. .#..
8 .##. #..# .##. #..# .##.
9 .##. #..# .### ...# .##.
. . . . . #
, .. .. .. .# #.
: . # . # .
- ... ... ### ... ...
+ ... .#. ### .#. ...
% #..# ..#. .##. .#.. #..#
/ ...# ..#. ..#. .#.. #...
( .# #. #. #. .#
) #. .# .# .# #.
? ##. ..# .#. ... .#.
< ..# .#. #.. .#. ..#
' # # . . .
"""

_SHAPES = {line[0]: tuple(line[2:].split()) for line in _ART.strip().splitlines()}
_SHAPES[" "] = ("..",) * HEIGHT
_UNKNOWN = ("####", "#..#", "#..#", "#..#", "####")


@dataclass(frozen=True, slots=True)
class Lettering:
    """Big text, drawn: rows of characters, all of one width."""

    rows: tuple[str, ...]

    @property
    def width(self) -> int:
        """Columns that the letters take."""
        return len(self.rows[0]) if self.rows else 0


def rows_of(scale: int) -> int:
    """Rows that letters of this scale take."""
    return (HEIGHT * scale + 1) // 2


def can_draw(scale: int, glyphs: Glyphs) -> bool:
    """Whether these glyphs can draw letters of this scale: odd ones need half rows."""
    return scale > 0 and (glyphs.halves or scale % 2 == 0)


@lru_cache(maxsize=256)
def letter(text: str, scale: int, glyphs: Glyphs) -> Lettering:
    """Draw one line of text at this scale, in capitals.

    No text, or a scale that these glyphs cannot draw, gives no rows.
    """
    if not text or not can_draw(scale, glyphs):
        return Lettering(())
    shapes = [_SHAPES.get(char, _UNKNOWN) for char in text.upper()]
    pixels = [
        "".join(pixel * scale for pixel in ".".join(shape[row] for shape in shapes))
        for row in range(HEIGHT)
        for _ in range(scale)
    ]
    if len(pixels) % 2:
        pixels.insert(0, "." * len(pixels[0]))
    halves = {"..": " ", "##": glyphs.full, "#.": glyphs.upper, ".#": glyphs.lower}
    return Lettering(
        tuple(
            "".join(halves[upper + lower] for upper, lower in zip(top, bottom, strict=True))
            for top, bottom in zip(pixels[::2], pixels[1::2], strict=True)
        )
    )


def largest(
    text: str, width: int, height: int, scales: tuple[int, ...], glyphs: Glyphs
) -> Lettering:
    """The largest of these scales that fits the room; no rows where none does."""
    for scale in sorted(scales, reverse=True):
        drawn = letter(text, scale, glyphs)
        if drawn.rows and drawn.width <= width and len(drawn.rows) <= height:
            return drawn
    return Lettering(())
