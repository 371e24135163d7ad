"""The ledger's screen: one bath at a time, scrolled by the arrows."""

from drivers.base.clock import Clock
from tui.baths import BathPage, BathsSource
from tui.glyphs import Glyphs
from tui.ink import Line
from tui.keys import CHOOSE
from tui.look import RunSource
from tui.moment import Moment
from tui.panels.ledger import draw_ledger, ledger_rows
from tui.sheet_screen import SheetScreen
from tui.view import View

OTHER = {"left": -1, "right": +1}


class LedgerScreen(SheetScreen):
    """See `SheetScreen`."""

    def __init__(self, source: BathsSource, clock: Clock, glyphs: Glyphs) -> None:
        super().__init__(source, clock, glyphs)
        self._baths = source
        self.page = BathPage()
        self.first = 0

    def is_news(self, seen: object) -> bool:
        return seen is not self.page

    def take(self, seen: object) -> None:
        assert isinstance(seen, BathPage)
        if seen.at != self.page.at:
            self.first = 0
        self.page = seen

    def draw(self, width: int, height: int) -> list[Line]:
        whole = self._whole()
        return draw_ledger(self.page, self.first, whole, width, height)

    def press(self, key: str) -> None:
        if key in CHOOSE:
            width, height = self.app.size
            rows = len(ledger_rows(self.page, self._whole(), width))
            last = max(rows - max(height - 2, 1), 0)
            self.first = min(max(self.first + CHOOSE[key], 0), last)
        elif key in OTHER:
            self._turn(OTHER[key])

    def _turn(self, step: int) -> None:
        names = self.page.names
        if len(names) < 2:
            self.say("there is no other bath")
            return
        self._baths.choose(names[(self.page.at + step) % len(names)])
        self.lookout.look_now()

    def _whole(self) -> Moment:
        return Moment(
            None,
            glyphs=self.glyphs,
            trouble=self.trouble,
            said=self.said,
            help_is_open=self.help_is_open,
        )


def ledger_of(view: View, source: RunSource, clock: Clock, glyphs: Glyphs) -> LedgerScreen:
    """The ledger, from the bath of a run on."""
    bath = (view.card.bath if view.card else "") or view.row.facts.bath
    return LedgerScreen(source.ledger(bath), clock, glyphs)
