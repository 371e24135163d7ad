"""The job card's screen: a few keys before a run; without an answer everything still works."""

from functools import partial

from drivers.base.clock import Clock
from monitor.model.kept_settings import baths_offered, kept_fittings
from monitor.model.request import RequestKind
from tui.form import TYPED, Deed, Form, Row, corrected
from tui.glyphs import Glyphs
from tui.ink import Line
from tui.look import RunSource
from tui.panels.card import draw_card
from tui.sheet_screen import SheetScreen
from tui.view import View


class CardScreen(SheetScreen):
    """Fills in or corrects the card of one run; see `SheetScreen`."""

    def __init__(self, source: RunSource, clock: Clock, glyphs: Glyphs) -> None:
        own = source.another()
        super().__init__(own, clock, glyphs)
        self.source = own
        self.view: View | None = None
        self.form = Form()

    def draw(self, width: int, height: int) -> list[Line]:
        return draw_card(self.form, self.view, self.said, self.glyphs, width, height)

    def take(self, seen: object) -> None:
        assert isinstance(seen, View)
        if self.view is None:
            facts = seen.row.facts
            steps = [step.name for step in kept_fittings(facts.settings).steps]
            baths = baths_offered(facts.settings)
            self.form = corrected(seen.card, seen.card_before, facts.bath, steps, baths)
        self.view = seen

    def takes_paste(self) -> bool:
        return self.view is not None and self.form.at in TYPED

    def takes_text(self, key: str) -> bool:
        if self.view is None and key != "escape":
            return True  # its answers are not there yet
        deed = self.form.press(key)
        if self.form.at is Row.KEEP:
            self.source.plan_for(self.form.card)
        if deed is Deed.KEEP:
            if not self.form.card.is_blank:
                self.lookout.do(partial(self.source.put_card, self.form.card), "keep the card")
            self.leave()
        elif deed is Deed.SKIP:
            self.leave()
        elif deed is Deed.HEARD:
            ask = partial(self.source.ask, RequestKind.SOUND_HEARD, "")
            self.lookout.do(ask, "note that the sound was heard")
        return True

    def press(self, key: str) -> None:
        """Every key is text here; see `takes_text`."""
