"""The grid that charts are drawn on: points become rows of characters.

Braille has 2 x 4 points in a character, blocks 1 x 2, plain ASCII one. A character shows the
layer that ranks highest in it. What was measured stands alone in its character; the forecast and
the limit are joined where braille lets them be.
"""

from enum import IntEnum

from tui.glyphs import GlyphName, Glyphs
from tui.ink import Ink, Line

_BRAILLE_BITS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))


class Layer(IntEnum):
    """What a point belongs to; the higher covers the lower."""

    BAND = 1
    MEDIAN = 2
    LIMIT = 3
    TRACE = 4
    CURSOR = 5


class Raster:
    """A paper of `width` by `height` characters.

    Parameters
    ----------
    inks
        The ink of each layer.
    """

    def __init__(self, width: int, height: int, glyphs: Glyphs, inks: dict[Layer, Ink]) -> None:
        self.width = max(width, 0)
        self.height = max(height, 0)
        self._glyphs = glyphs
        self._inks = inks
        self._cells: dict[tuple[int, int], tuple[Layer, int]] = {}

    @property
    def points_across(self) -> int:
        """Points from left to right."""
        return self.width * self._glyphs.across

    @property
    def points_down(self) -> int:
        """Points from top to bottom."""
        return self.height * self._glyphs.down

    def dot(self, x: int, y: int, layer: Layer) -> None:
        """Set one point, counted from the upper left; what lies off the paper is left out."""
        if not (0 <= x < self.points_across and 0 <= y < self.points_down):
            return
        across, down = self._glyphs.across, self._glyphs.down
        cell = (x // across, y // down)
        bit = _bit(self._glyphs, x % across, y % down)
        old_layer, bits = self._cells.get(cell, (layer, 0))
        merges = layer is old_layer or (
            self._glyphs.name is GlyphName.BRAILLE and max(layer, old_layer) <= Layer.LIMIT
        )
        if merges:
            self._cells[cell] = (max(layer, old_layer), bits | bit)
        elif layer > old_layer:
            self._cells[cell] = (layer, bit)

    def upright(self, x: int, top: int, bottom: int, layer: Layer) -> None:
        """Set the points of an upright stroke, both ends included."""
        for y in range(max(min(top, bottom), 0), min(max(top, bottom), self.points_down - 1) + 1):
            self.dot(x, y, layer)

    def lines(self) -> list[Line]:
        """The paper, row by row."""
        return [self._line(row) for row in range(self.height)]

    def _line(self, row: int) -> Line:
        pieces: list[tuple[str, Ink]] = []
        for column in range(self.width):
            layer, bits = self._cells.get((column, row), (None, 0))
            char = " " if layer is None else self._char(layer, bits)
            ink = Ink.PLAIN if layer is None else self._inks[layer]
            if pieces and pieces[-1][1] is ink:
                pieces[-1] = (pieces[-1][0] + char, ink)
            else:
                pieces.append((char, ink))
        return tuple(pieces)

    def _char(self, layer: Layer, bits: int) -> str:
        glyphs = self._glyphs
        if layer is Layer.CURSOR:
            return glyphs.upright
        if glyphs.name is GlyphName.BRAILLE:
            return chr(0x2800 + bits)
        if layer is Layer.LIMIT:
            return glyphs.rule
        if layer is Layer.BAND:
            return glyphs.shade
        if glyphs.name is GlyphName.ASCII:
            return "+" if layer is Layer.MEDIAN else "*"
        if layer is Layer.MEDIAN:
            return glyphs.dot
        return {1: glyphs.upper, 2: glyphs.lower, 3: glyphs.full}[bits]


def _bit(glyphs: Glyphs, x: int, y: int) -> int:
    if glyphs.name is GlyphName.BRAILLE:
        return _BRAILLE_BITS[y][x]
    return 1 << y
