"""The review of a run: its whole chart, a cursor, what happened; the live screen's parts reused."""

from functools import partial

from drivers.base.clock import Clock
from drivers.base.inert import inert
from tui.card import CardScreen
from tui.glyphs import Glyphs
from tui.ink import Ink, Line
from tui.keys import CARD, CLOSER, LEDGER, RINSE, WIDER
from tui.ledger import ledger_of
from tui.look import RunSource
from tui.moment import Moment
from tui.note import Note
from tui.page import draw_review
from tui.panels.chart import AXIS_WIDTH
from tui.panels.events import happenings
from tui.run_screen import RunScreen
from tui.view import View, Window

SHORTEST_S = 1.0


class ReviewScreen(RunScreen):
    """See `RunScreen`."""

    def __init__(self, source: RunSource, clock: Clock, boot: str, glyphs: Glyphs) -> None:
        super().__init__(source, clock, boot, glyphs)
        self._from_s = 0.0
        self._to_s: float | None = None
        self._cursor_s: float | None = None
        self._note = Note()
        self._mark: int | None = None
        self._tells_story = False

    @property
    def story_is_open(self) -> bool:
        return self._tells_story

    @property
    def end_s(self) -> float:
        """The run's last moment so far."""
        view = self.view
        if view is None:
            return 1.0
        end_s = view.end_s
        if end_s is None:
            end_s = view.last.t_s if view.last is not None else 1.0
        return max(end_s, SHORTEST_S)

    @property
    def cursor_s(self) -> float | None:
        if self.view is None:
            return None
        return self.end_s if self._cursor_s is None else self._cursor_s

    def shows_other(self, seen: View) -> bool:
        return self.view is None or seen.chart is not self.view.chart

    def put_cursor(self, t_s: float) -> None:
        """Put the cursor on a moment, run seconds."""
        self._cursor_s = t_s

    def page(self, moment: Moment, width: int, height: int) -> list[Line]:
        return draw_review(moment, width, height)

    def window(self, width: int) -> Window | None:
        if self.view is None:
            return None
        count = max((width - AXIS_WIDTH) * self.glyphs.across, 1)
        return Window(self._from_s, self.end_s if self._to_s is None else self._to_s, count)

    def takes_paste(self) -> bool:
        return self._note.is_open

    def takes_text(self, key: str) -> bool:
        if self.rinse.takes(key):
            self.take_answer(key)
            return True
        if not self._note.is_open:
            return False
        done = self._note.type(key, self.clock.monotonic_ns())
        if done and self._mark is not None:
            what = f"add the text to mark {self._mark}"
            self.lookout.do(partial(self.source.add_mark_text, self._mark, done), what)
            self.lookout.look_now()
        return True

    def last_row(self) -> Line | None:
        self.rinse.expire(self.clock.monotonic_ns())
        if self.rinse.is_open:
            return self.rinse.line
        if self._note.is_open:
            text = self.glyphs.text(inert(self._note.text[-40:]))
            return ((f" MARK {self._mark}: {text}_ ", Ink.ASKED), ("  ENTER keeps it", Ink.PLAIN))
        return None

    def _add_text(self) -> None:
        marks = () if self.view is None else self.view.marks
        if not marks:
            self.say("this run has no mark")
            return
        here_s = self.cursor_s or 0.0
        self._mark = min(marks, key=lambda mark: abs(mark.t_ns / 1e9 - here_s)).number
        self._note.open(self.clock.monotonic_ns())

    def press(self, key: str) -> None:
        if key == "t":
            self._add_text()
        elif key in RINSE:
            self.rinse.open(self.clock.monotonic_ns())
        elif key == "x":
            self._tells_story = not self._tells_story
        elif key in CARD:
            self.app.push_screen(CardScreen(self.source, self.clock, self.glyphs))
        elif key in LEDGER and self.view is not None:
            self.app.push_screen(ledger_of(self.view, self.source, self.clock, self.glyphs))
        else:
            self._move(key)

    def _move(self, key: str) -> None:
        window = self.window(self.app.size.width)
        if window is None:
            return
        column_s = window.column_s * self.glyphs.across
        steps = {
            "left": -column_s,
            "right": column_s,
            "pageup": -(window.to_s - window.from_s) / 10.0,
            "pagedown": (window.to_s - window.from_s) / 10.0,
            "home": -self.end_s,
            "end": self.end_s,
        }
        if key in steps:
            self._go_to((self.cursor_s or 0.0) + steps[key])
        elif key == "down":
            self._go_to_event(+1)
        elif key == "up":
            self._go_to_event(-1)
        elif key in CLOSER:
            self._zoom(0.5)
        elif key in WIDER:
            self._zoom(2.0)
        elif key == "0":
            self._show(0.0, None)

    def _go_to(self, t_s: float) -> None:
        self._cursor_s = min(max(t_s, 0.0), self.end_s)
        window = self.window(self.app.size.width)
        if window is None or window.from_s <= self._cursor_s <= window.to_s:
            return
        half_s = (window.to_s - window.from_s) / 2.0
        from_s = min(max(self._cursor_s - half_s, 0.0), max(self.end_s - 2 * half_s, 0.0))
        self._show(from_s, from_s + 2 * half_s)

    def _go_to_event(self, step: int) -> None:
        if self.view is None:
            return
        here_s = self.cursor_s or 0.0
        times = [h.t_s for h in happenings(self.view)]
        later = [t_s for t_s in times if t_s > here_s + 1e-6]
        earlier = [t_s for t_s in times if t_s < here_s - 1e-6]
        if step > 0 and later:
            self._go_to(later[0])
        elif step < 0 and earlier:
            self._go_to(earlier[-1])
        else:
            self.say("nothing further that way")

    def _zoom(self, factor: float) -> None:
        window = self.window(self.app.size.width)
        if window is None:
            return
        span_s = max((window.to_s - window.from_s) * factor, SHORTEST_S)
        if span_s >= self.end_s:
            self._show(0.0, None)
            return
        at_s = self.cursor_s or 0.0
        share = (at_s - window.from_s) / (window.to_s - window.from_s)
        from_s = min(max(at_s - share * span_s, 0.0), self.end_s - span_s)
        self._show(from_s, from_s + span_s)

    def _show(self, from_s: float, to_s: float | None) -> None:
        self._from_s, self._to_s = from_s, to_s
        self._wanted = self.window(self.app.size.width)
        self.lookout.look_now()
