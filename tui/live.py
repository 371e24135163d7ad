"""The live screen: watches one run and drops what the operator asks for."""

from functools import partial

from drivers.base.clock import Clock
from drivers.base.inert import inert
from monitor.model.alarm import AlarmEvent, Priority, State
from monitor.model.event import PromptName
from monitor.model.request import Request, RequestKind
from monitor.text.hold import HOLD_RUNS
from tui.card import CardScreen
from tui.glyphs import Glyphs
from tui.ink import Ink, Line
from tui.keys import (
    ACKNOWLEDGE,
    BACK,
    CARD,
    CLOSER,
    END_RUN,
    LEDGER,
    MARK,
    NEXT_STEP,
    NOTE,
    RINSE,
    SHELVE,
    WIDER,
    TwoKeys,
)
from tui.ledger import ledger_of
from tui.look import RunSource
from tui.messages import Asked
from tui.moment import Moment
from tui.note import Note
from tui.page import draw_live
from tui.panels.chart import SPANS_S, live_window
from tui.run_screen import RunScreen
from tui.view import View, Window

SHELVABLE = (State.UNACKNOWLEDGED, State.ACKNOWLEDGED, State.RETURNED_UNACKNOWLEDGED)


class LiveScreen(RunScreen):
    """See `RunScreen`."""

    def __init__(self, source: RunSource, clock: Clock, boot: str, glyphs: Glyphs) -> None:
        super().__init__(source, clock, boot, glyphs)
        self._span_s: float | None = None
        self._end = TwoKeys(END_RUN)
        self._shelf = TwoKeys(SHELVE)
        self._note = Note()
        self._told: int | None = None

    def page(self, moment: Moment, width: int, height: int) -> list[Line]:
        return draw_live(moment, width, height)

    def window(self, width: int) -> Window | None:
        if self.view is None:
            return None
        return live_window(self.now_s(), self._span_s, width, self.glyphs.across)

    def take(self, seen: object) -> None:
        super().take(seen)
        if self.view is None:
            return
        answered = [one for one in self.view.requests if one.outcome is not None]
        newest = answered[-1].request if answered else 0
        if self._told is not None and newest > self._told:
            self.say(f"the recorder: {_answer(answered[-1])}")
        self._told = newest

    def press(self, key: str) -> None:
        now_ns = self.clock.monotonic_ns()
        ends, shelves = self._end.press(key, now_ns), self._shelf.press(key, now_ns)
        if ends:
            self._ask(RequestKind.END_RUN, "", "end the run")
        elif shelves:
            self._shelve()
        elif self._end.is_armed or self._shelf.is_armed:
            self.hush()
        elif key in ACKNOWLEDGE:
            self._acknowledge()
        elif key in MARK:
            self._ask(RequestKind.MARK, "", "put a mark")
        elif key in NOTE:
            self._note.open(now_ns)
        elif key in RINSE and self.view is not None:
            self.rinse.open(now_ns)
        elif key in NEXT_STEP:
            self._next_step()
        elif key in CARD and self.view is not None:
            self.app.push_screen(CardScreen(self.source, self.clock, self.glyphs))
        elif key in LEDGER and self.view is not None:
            self.app.push_screen(ledger_of(self.view, self.source, self.clock, self.glyphs))
        elif key in CLOSER:
            self._stretch(-1)
        elif key in WIDER:
            self._stretch(+1)
        elif key in BACK:
            if self.below is None:
                self.say("there is no other supply; q closes this screen")
            else:
                self.leave()

    def acts_through_help(self, key: str) -> bool:
        return super().acts_through_help(key) or key in ACKNOWLEDGE

    def forget(self) -> None:
        self._end.press("", self.clock.monotonic_ns())
        self._shelf.press("", self.clock.monotonic_ns())

    def takes_paste(self) -> bool:
        return self._note.is_open

    def takes_text(self, key: str) -> bool:
        if self.rinse.takes(key):
            prompt = self.moment().prompt
            if (
                self.take_answer(key)
                and prompt is not None
                and prompt.prompt == PromptName.CHECK_WETTING
            ):
                self._next_step()
            return True
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
        self._end.expire(now_ns)
        self._shelf.expire(now_ns)
        self._note.expire(now_ns)
        self.rinse.expire(now_ns)
        if self.rinse.is_open:
            return self.rinse.line
        if self._note.is_open:
            text = self.glyphs.text(inert(self._note.text[-40:]))
            return ((f" NOTE: {text}_ ", Ink.ASKED), ("  ENTER keeps it, ESC drops it", Ink.PLAIN))
        if self._end.is_armed:
            text = f" press {self._end.second} within 5 s to END THE RUN; any other key: go on "
            return ((text, Ink.ASKED),)
        if self._shelf.is_armed:
            return ((f" {self._shelf_words()} ", Ink.ASKED),)
        return None

    def fate(self, message: Asked) -> str:
        if message.trouble:
            return f"could not ask: {message.trouble}"
        return f"asked the recorder: {message.what}"

    def _acknowledge(self) -> None:
        moment = self.moment()
        waiting = moment.waiting
        if waiting is None:
            self.say("there is nothing to acknowledge")
            return
        detail = f"{waiting.alarm}#{waiting.occurrence}"
        self._ask(RequestKind.ACKNOWLEDGE, detail, f"acknowledge {inert(waiting.alarm)}")

    def _shelf_words(self) -> str:
        second = self._shelf.second
        meant = shelf_candidate(self.view)
        if meant is None:
            return "nothing can be shelved: a critical alarm can only be acknowledged"
        name = inert(meant.alarm)
        if meant.state is State.SHELVED:
            return f"press {second} within 5 s to take {name} OFF THE SHELF"
        return f"press {second} within 5 s to SHELVE {name}: 10 min without it"

    def _shelve(self) -> None:
        meant = shelf_candidate(self.view)
        if meant is None:
            self.say("nothing can be shelved: a critical alarm can only be acknowledged")
        elif meant.state is State.SHELVED:
            what = f"take {inert(meant.alarm)} off the shelf"
            self._ask(RequestKind.UNSHELVE, meant.alarm, what)
        else:
            detail = f"{meant.alarm}#{meant.occurrence}"
            self._ask(RequestKind.SHELVE, detail, f"shelve {inert(meant.alarm)} for 10 min")

    def _next_step(self) -> None:
        moment = self.moment()
        prompt = moment.prompt
        if moment.hold_left_s is not None:
            self.say(HOLD_RUNS)
        elif prompt is None:
            self._ask(RequestKind.NEXT_STEP, "", "go to the next step")
        else:
            self._ask(RequestKind.NEXT_STEP, prompt.prompt, f"confirm {inert(prompt.prompt)}")

    def _ask(self, kind: RequestKind, detail: str, what: str) -> None:
        if self.view is None or self.view.ended:
            self.say("the run has ended" if self.view else "the store is not open yet")
            return
        self.lookout.do(partial(self.source.ask, kind, detail), what)

    def _stretch(self, step: int) -> None:
        window = self._wanted
        if window is None:
            return
        span_s = round(window.column_s * window.count)
        at = min(range(len(SPANS_S)), key=lambda i: abs(SPANS_S[i] - span_s))
        self._span_s = SPANS_S[min(max(at + step, 0), len(SPANS_S) - 1)]
        self._wanted = self.window(self.app.size.width)
        self.lookout.look_now()


def shelf_candidate(view: View | None) -> AlarmEvent | None:
    """The alarm that shelving means: the worst that may be; else one to take off the shelf."""
    if view is None:
        return None
    order = list(Priority)
    standing = sorted(view.alarms, key=lambda e: (order.index(e.priority), e.t_ns))
    may_be = [
        event
        for event in standing
        if event.state in SHELVABLE and event.priority is not Priority.CRITICAL
    ]
    shelved = [event for event in standing if event.state is State.SHELVED]
    return next(iter(may_be + shelved), None)


def _answer(request: Request) -> str:
    what = request.kind.value.replace("-", " ")
    about = inert(request.detail.partition("#")[0], 40)
    outcome = inert(request.outcome or "", 80)
    return f"{what} {about}: {outcome}".replace("  ", " ").replace(" :", ":")
