"""Two to six runs side by side, aligned on their start or on a mark, with their differences."""

from drivers.base.clock import Clock
from tui.archive import SidesSource
from tui.glyphs import Glyphs
from tui.ink import Line
from tui.moment import Moment
from tui.panels.compare import draw_compare
from tui.sheet_screen import SheetScreen
from tui.side_by_side import Side
from tui.view import Window


class CompareScreen(SheetScreen):
    """See `SheetScreen`."""

    def __init__(self, source: SidesSource, clock: Clock, glyphs: Glyphs) -> None:
        super().__init__(source, clock, glyphs)
        self.sides: tuple[Side, ...] = ()
        self.mark: int | None = None

    def window(self, width: int) -> Window | None:
        # What is laid side by side is over or long; it is looked up once.
        return Window(0.0, 1.0, max(width, 1))

    def is_news(self, seen: object) -> bool:
        # What is laid side by side is looked up once, and is the same object ever after.
        return seen is not self.sides

    def take(self, seen: object) -> None:
        assert isinstance(seen, tuple)
        self.sides = seen

    def draw(self, width: int, height: int) -> list[Line]:
        whole = Moment(
            None,
            glyphs=self.glyphs,
            trouble=self.trouble,
            said=self.said,
            help_is_open=self.help_is_open,
        )
        return draw_compare(self.sides, self.mark, whole, width, height)

    def press(self, key: str) -> None:
        if key != "a":
            return
        marks = sorted({mark.number for side in self.sides for mark in side.marks})
        if not marks:
            self.say("none of these runs has a mark")
            return
        choices = [None, *marks]
        self.mark = choices[(choices.index(self.mark) + 1) % len(choices)]
