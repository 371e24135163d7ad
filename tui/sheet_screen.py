"""What all screens share: the sheet, the lookout, the keys, and what is said in the last row.

A screen shows and asks. It opens nothing, and reads no clock but the one handed in.
"""

from abc import abstractmethod
from collections.abc import Callable
from datetime import UTC, datetime

from textual.app import ComposeResult
from textual.events import Key, Paste, Resize
from textual.screen import Screen
from textual.timer import Timer

from drivers.base.clock import Clock
from tui.glyphs import Glyphs, next_set
from tui.ink import Ink, Line
from tui.keys import CLOSE, GLYPHS, HELP
from tui.look import Source
from tui.lookout import Lookout
from tui.messages import Asked, Broke, Looked, LookFailed
from tui.sheet import Sheet
from tui.view import Window

DRAW_EVERY_S = 0.5
A_MOMENT_S = 0.005
SAID_FOR_S = 4.0
MOST_PASTED = 200
LATE_S = 0.5
"""A regular drawing that comes so much too late is told: keys and alarms come late as well."""
HUNG_AFTER_S = 2.0
"""Without any word from the lookout for so long, the store is said not to answer."""


class SheetScreen(Screen[None], inherit_bindings=False):
    """A screen that is one sheet of text.

    Parameters
    ----------
    source
        Where it looks; used by the lookout's thread.
    clock
        The machine's own clock.
    glyphs
        What to draw with at first.
    """

    def __init__(self, source: Source, clock: Clock, glyphs: Glyphs) -> None:
        super().__init__()
        self.clock = clock
        self.glyphs = glyphs
        self.help_is_open = False
        self.has_looked = False
        self._trouble = ""
        self._heard_ns = clock.monotonic_ns()
        self._said: tuple[Line, int] | None = None
        self._sheet = Sheet()
        self._wanted: Window | None = None
        self._due: Timer | None = None
        self._drawn_ns: int | None = None
        self.lookout = Lookout(source, clock, lambda: self._wanted, self.post_message)

    @abstractmethod
    def draw(self, width: int, height: int) -> list[Line]:
        """The whole screen now."""

    @abstractmethod
    def take(self, seen: object) -> None:
        """Take a new picture from the lookout."""

    def is_news(self, seen: object) -> bool:
        """Whether a new picture is drawn at once; else it waits for the next regular drawing."""
        return True

    @abstractmethod
    def press(self, key: str) -> None:
        """Take a key that is not one of those that all screens share."""

    def window(self, width: int) -> Window | None:
        """The stretch that a chart should show at this width; None without a chart."""
        del width
        return None

    @property
    def trouble(self) -> str:
        """Why the store cannot be read at present; "" while it can."""
        waited_ns = self.clock.monotonic_ns() - self._heard_ns
        if not self._trouble and waited_ns > HUNG_AFTER_S * 1e9:
            return "the store does not answer"
        return self._trouble

    @property
    def said(self) -> Line | None:
        """What the last row must show; None for the keys."""
        now_ns = self.clock.monotonic_ns()
        if self._said is not None and now_ns - self._said[1] > SAID_FOR_S * 1e9:
            self._said = None
        return self.last_row() or (None if self._said is None else self._said[0])

    def say(self, text: str, ink: Ink = Ink.STRONG) -> None:
        """Say something in the last row for a few seconds."""
        self._said = (((f" {self.glyphs.text(text)}", ink),), self.clock.monotonic_ns())
        self.redraw()

    def hush(self) -> None:
        """Show the keys in the last row again."""
        self._said = None

    def compose(self) -> ComposeResult:
        yield self._sheet

    def on_mount(self) -> None:
        self.lookout.start()
        self.set_interval(DRAW_EVERY_S, self.draw_regularly)
        self.redraw()

    def draw_regularly(self) -> None:
        """Draw what time changes; say so where this comes late."""
        now_ns, last_ns = self.clock.monotonic_ns(), self._drawn_ns
        self._drawn_ns = now_ns
        late_s = 0.0 if last_ns is None else (now_ns - last_ns) / 1e9 - DRAW_EVERY_S
        if late_s > LATE_S and self.said is None:
            self.say(
                f"this screen is {late_s:.1f} s late: the machine is busy. The recorder goes on."
            )
        self.redraw()

    def on_unmount(self) -> None:
        self.lookout.stop()

    def on_screen_suspend(self) -> None:
        self.lookout.rest()

    def on_screen_resume(self) -> None:
        self._drawn_ns = None
        self._heard_ns = self.clock.monotonic_ns()
        self.lookout.look_now()
        self.redraw()

    def on_resize(self, _: Resize) -> None:
        self.redraw()

    def on_looked(self, message: Looked) -> None:
        is_first = not self.has_looked
        is_new = is_first or bool(self._trouble) or self.is_news(message.seen)
        self.take(message.seen)
        self.has_looked, self._trouble = True, ""
        self._heard_ns = self.clock.monotonic_ns()
        if is_new:
            self.redraw()
        if is_first:
            self.lookout.look_now()

    def on_look_failed(self, message: LookFailed) -> None:
        self._trouble = message.trouble
        self._heard_ns = self.clock.monotonic_ns()
        self.redraw()

    def on_asked(self, message: Asked) -> None:
        # Textual calls the handlers of all base classes: what may differ is a method of its own.
        self.say(self.fate(message))

    def fate(self, message: Asked) -> str:
        """What became of an errand, in words."""
        if message.trouble:
            return f"could not {message.what}: {message.trouble}"
        return f"done: {message.what}"

    def on_broke(self, message: Broke) -> None:
        raise message.error

    def on_key(self, event: Key) -> None:
        event.stop()
        key = event.key
        if event.is_printable and event.character not in (None, " "):
            key = event.character or key
        if self.takes_text(key):
            self.redraw()
            return
        common: list[tuple[frozenset[str], Callable[[], None]]] = [
            (CLOSE, self.leave),
            (GLYPHS, self._switch_glyphs),
            (HELP, self._open_help),
        ]
        if self.help_is_open:
            self.help_is_open = False
            common = common[:1]
            if not self.acts_through_help(key):
                self.redraw()
                return
        for keys, act in common:
            if key in keys:
                self.forget()
                act()
                break
        else:
            self.press(key)
        self.redraw()

    def on_paste(self, event: Paste) -> None:
        event.stop()
        if self.takes_paste():
            for char in event.text[:MOST_PASTED]:
                self.takes_text("space" if char in " \t\r\n" else char)
            self.redraw()

    def takes_paste(self) -> bool:
        """Whether a line of text is being written; else what is pasted goes nowhere."""
        return False

    def takes_text(self, key: str) -> bool:
        """Take the key as text, where something is being written; True if so."""
        del key
        return False

    def acts_through_help(self, key: str) -> bool:
        """Whether a key that closes the help also does its own work."""
        return key in CLOSE

    def forget(self) -> None:
        """Drop what was half done."""

    def leave(self) -> None:
        """Show the screen below this one; without one, end. The recorder goes on."""
        if self.below is None:
            self.app.exit(return_code=0)
        else:
            self.app.pop_screen()

    @property
    def below(self) -> "SheetScreen | None":
        """The screen that leaving this one shows; None where it is the lowest."""
        stack = self.app.screen_stack
        at = stack.index(self) if self in stack else 0
        one = stack[at - 1] if at > 0 else None
        return one if isinstance(one, SheetScreen) else None

    def last_row(self) -> Line | None:
        """What the last row must show before anything said; None for nothing."""
        return None

    def redraw(self) -> None:
        """Draw what has changed."""
        width, height = self.app.size
        self._wanted = self.window(width)
        if width > 0 and height > 0 and self.is_mounted:
            lines = [self.glyphs.line(line, width) for line in self.draw(width, height)]
            self._sheet.show(lines)
            self._draw_in_time(self.fresh_for_s())

    def fresh_for_s(self) -> float | None:
        """Seconds until something that is shown is too old to be; None while nothing will be."""
        return None

    def _draw_in_time(self, due_s: float | None) -> None:
        # Values that turn old between two regular drawings would be shown too long.
        if due_s is not None and due_s < DRAW_EVERY_S and self._due is None:
            self._due = self.set_timer(due_s + A_MOMENT_S, self._draw_due)

    def _draw_due(self) -> None:
        self._due = None
        self.redraw()

    def local_time(self, offset_s: int = 0) -> str:
        """The wall clock as text, so that a frozen screen shows."""
        at_s = self.clock.utc_ns() // 1_000_000_000 + offset_s
        return datetime.fromtimestamp(at_s, UTC).strftime("%H:%M:%S")

    def _switch_glyphs(self) -> None:
        self.glyphs = next_set(self.glyphs)
        self._wanted = self.window(self.app.size.width)
        self.lookout.look_now()
        self.say(f"drawing in {self.glyphs.name}")

    def _open_help(self) -> None:
        self.help_is_open = True
