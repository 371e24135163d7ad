"""The live screen: watches one run and drops what the operator asks for."""

from drivers.clock import Clock
from monitor.store.rows import RequestKind
from tui.glyphs import Glyphs
from tui.inert import inert
from tui.ink import Ink, Line
from tui.keys import ACKNOWLEDGE, CLOSER, MARK, NOTE, WIDER, EndGuard
from tui.look import Source
from tui.moment import Moment
from tui.note import Note
from tui.page import draw_live
from tui.panels.chart import SPANS_S, live_window
from tui.run_app import RunApp
from tui.view import Window


class LiveApp(RunApp):
    """See `RunApp`."""

    def __init__(self, source: Source, clock: Clock, boot: str, glyphs: Glyphs) -> None:
        super().__init__(source, clock, boot, glyphs)
        self._span_s: float | None = None
        self._guard = EndGuard()
        self._note = Note()

    def page(self, moment: Moment, width: int, height: int) -> list[Line]:
        return draw_live(moment, width, height)

    def window(self, width: int) -> Window | None:
        if self.view is None:
            return None
        return live_window(self.now_s(), self._span_s, width, self.glyphs.across)

    def press(self, key: str) -> None:
        if self._guard.press(key, self.clock.monotonic_ns()):
            self._ask(RequestKind.END_RUN, "", "end the run")
        elif self._guard.is_armed:
            self.hush()
        elif key in ACKNOWLEDGE:
            self._acknowledge()
        elif key in MARK:
            self._ask(RequestKind.MARK, "", "put a mark")
        elif key in NOTE:
            self._note.open(self.clock.monotonic_ns())
        elif key in CLOSER:
            self._stretch(-1)
        elif key in WIDER:
            self._stretch(+1)

    def acts_through_help(self, key: str) -> bool:
        return super().acts_through_help(key) or key in ACKNOWLEDGE

    def forget(self) -> None:
        self._guard.press("", self.clock.monotonic_ns())

    def takes_text(self, key: str) -> bool:
        if not self._note.is_open:
            return False
        if key in ("space", "enter") and not self._note.text.strip():
            # Whoever hit `n` by mistake wants the alarm acknowledged, not a blank note.
            self._note.close()
            self._acknowledge()
            return True
        done = self._note.type(key, self.clock.monotonic_ns())
        if done:
            self._ask(RequestKind.NOTE, done, f"keep the note: {inert(done, 40)}")
        return True

    def last_row(self) -> Line | None:
        now_ns = self.clock.monotonic_ns()
        self._guard.expire(now_ns)
        self._note.expire(now_ns)
        if self._note.is_open:
            text = self.glyphs.text(inert(self._note.text[-40:]))
            return ((f" NOTE: {text}_ ", Ink.ASKED), ("  ENTER keeps it, ESC drops it", Ink.PLAIN))
        if self._guard.is_armed:
            text = f" press {self._guard.second} within 5 s to END THE RUN; any other key: go on "
            return ((text, Ink.ASKED),)
        return None

    def _acknowledge(self) -> None:
        moment = self.moment()
        waiting = moment.waiting
        if waiting is None:
            self.say("there is nothing to acknowledge")
            return
        detail = f"{waiting.alarm}#{waiting.occurrence}"
        self._ask(RequestKind.ACKNOWLEDGE, detail, f"acknowledge {inert(waiting.alarm)}")

    def _ask(self, kind: RequestKind, detail: str, what: str) -> None:
        if self.view is None or self.view.ended:
            self.say("the run has ended" if self.view else "the store is not open yet")
            return
        self.lookout.ask(kind, detail, what)

    def _stretch(self, step: int) -> None:
        window = self._wanted
        if window is None:
            return
        span_s = round(window.column_s * window.count)
        at = min(range(len(SPANS_S)), key=lambda i: abs(SPANS_S[i] - span_s))
        self._span_s = SPANS_S[min(max(at + step, 0), len(SPANS_S) - 1)]
        self._wanted = self.window(self.size.width)
        self.lookout.look_now()
