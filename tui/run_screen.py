"""What the live screen and the review share: one run, its time, and the moment that is drawn."""

from abc import abstractmethod
from functools import partial

from drivers.base.clock import Clock
from tui.glyphs import Glyphs
from tui.ink import Line
from tui.look import RunSource
from tui.moment import Moment
from tui.rinse import Rinse
from tui.run_time import now_s
from tui.sheet_screen import SheetScreen
from tui.view import View


class RunScreen(SheetScreen):
    """A screen about one run; see `SheetScreen`.

    Parameters
    ----------
    boot
        Name of the machine's present boot.
    """

    def __init__(self, source: RunSource, clock: Clock, boot: str, glyphs: Glyphs) -> None:
        super().__init__(source, clock, glyphs)
        self.source = source
        self.view: View | None = None
        self.rinse = Rinse()
        self._boot = boot

    @abstractmethod
    def page(self, moment: Moment, width: int, height: int) -> list[Line]:
        """The whole screen at this moment."""

    @property
    def story_is_open(self) -> bool:
        """Whether the stop or alarm at the cursor is told in full."""
        return False

    @property
    def cursor_s(self) -> float | None:
        """Where the cursor stands, run seconds; None without one."""
        return None

    def take(self, seen: object) -> None:
        assert isinstance(seen, View)
        self.view = seen

    def is_news(self, seen: object) -> bool:
        assert isinstance(seen, View)
        return self.view is None or seen.news != self.view.news or self.shows_other(seen)

    def shows_other(self, seen: View) -> bool:
        """Whether its chart is another one than before, and not the same moved on."""
        if self.view is None:
            return True
        old, new = self.view.chart.window, seen.chart.window
        return (new.count, new.column_s) != (old.count, old.column_s)

    def take_answer(self, key: str) -> bool:
        """Take an answer about the rinse; True once the outcome is known and kept."""
        outcome = self.rinse.answer(key, self.clock.monotonic_ns())
        if outcome is None:
            return False
        what = f"keep how it turned out: {outcome.line or 'not known'}"
        self.lookout.do(partial(self.source.put_outcome, outcome), what)
        return True

    def now_s(self) -> float:
        """Run seconds by the screen's clock; of a run that is over, its length."""
        return 0.0 if self.view is None else now_s(self.view, self.clock, self._boot)

    def moment(self) -> Moment:
        """What is drawn now."""
        return Moment(
            view=self.view,
            now_s=self.now_s(),
            local_time=self.local_time(0 if self.view is None else self.view.row.utc_offset_s),
            glyphs=self.glyphs,
            trouble=self.trouble,
            said=self.said,
            help_is_open=self.help_is_open,
            story_is_open=self.story_is_open,
            cursor_s=self.cursor_s,
        )

    def fresh_for_s(self) -> float | None:
        return None if self.view is None or self.view.ended else self.moment().fresh_for_s

    def draw(self, width: int, height: int) -> list[Line]:
        return self.page(self.moment(), width, height)
