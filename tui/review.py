"""The review of a run: its whole chart, a cursor, what happened; the live screen's parts reused."""

from drivers.clock import Clock
from tui.glyphs import Glyphs
from tui.ink import Line
from tui.keys import CLOSER, WIDER
from tui.look import RunSource
from tui.moment import Moment
from tui.page import draw_review
from tui.panels.chart import AXIS_WIDTH
from tui.panels.events import happenings
from tui.run_screen import RunScreen
from tui.view import Window

SHORTEST_S = 1.0


class ReviewScreen(RunScreen):
    """See `RunScreen`."""

    def __init__(self, source: RunSource, clock: Clock, boot: str, glyphs: Glyphs) -> None:
        super().__init__(source, clock, boot, glyphs)
        self._from_s = 0.0
        self._to_s: float | None = None
        self._cursor_s: float | None = None

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

    def press(self, key: str) -> None:
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
