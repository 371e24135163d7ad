"""The one widget: shows lines of inked text and repaints only the rows that have changed."""

from collections.abc import Mapping

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from tui.ink import Ink, Line
from tui.palette import COLOURED, WITHOUT_COLOUR


class Sheet(Widget, can_focus=False):
    """Fills the screen."""

    DEFAULT_CSS = "Sheet { width: 100%; height: 100%; background: #000000; }"

    def __init__(self) -> None:
        super().__init__()
        self._styles: Mapping[Ink, Style] = COLOURED
        self._lines: list[Line] = []

    def on_mount(self) -> None:
        self._styles = WITHOUT_COLOUR if self.app.no_color else COLOURED

    @property
    def lines(self) -> list[Line]:
        """What is shown now."""
        return self._lines

    def show(self, lines: list[Line]) -> None:
        """Show these lines; rows that are as before are left alone."""
        old, self._lines = self._lines, lines
        if len(old) != len(lines):
            self.refresh()
            return
        changed = [row for row, line in enumerate(lines) if line != old[row]]
        if changed:
            self.refresh(*(Region(0, row, self.size.width, 1) for row in changed))

    def render_line(self, y: int) -> Strip:
        width = self.size.width
        if y >= len(self._lines):
            return Strip.blank(width, self._styles[Ink.PLAIN])
        segments = [Segment(text, self._styles[ink]) for text, ink in self._lines[y]]
        return Strip(segments).adjust_cell_length(width, self._styles[Ink.PLAIN])
