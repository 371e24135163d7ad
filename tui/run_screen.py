"""What the live screen and the review share: the sheet, the lookout, signals, the way out.

The app shows and asks. It opens nothing, and reads no clock but the one handed in.
"""

import asyncio
import signal
from abc import abstractmethod
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime
from typing import ClassVar

from rich.segment import Segments
from rich.traceback import Traceback
from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.events import Key, Resize

from drivers.clock import Clock
from tui.glyphs import Glyphs, next_set
from tui.ink import Ink, Line
from tui.keys import CLOSE, GLYPHS, HELP
from tui.look import Source
from tui.lookout import Lookout
from tui.messages import Asked, Broke, Looked, LookFailed
from tui.moment import Moment
from tui.palette import COLOURED, WITHOUT_COLOUR
from tui.run_time import RunTime
from tui.sheet import Sheet
from tui.view import View, Window

DRAW_EVERY_S = 0.5
SAID_FOR_S = 4.0
HUNG_AFTER_S = 2.0
"""Without any word from the lookout for so long, the store is said not to answer."""

LEAVE_ON = ("SIGTERM", "SIGHUP", "SIGINT", "SIGQUIT", "SIGABRT")


class RunApp(App[None]):
    """A screen about one run.

    Parameters
    ----------
    source
        Where the run is looked at and requests are dropped; used by the lookout's thread.
    clock
        The machine's own clock.
    boot
        Name of the machine's present boot.
    glyphs
        What to draw with at first.
    """

    TITLE = "bathvigil"
    CSS = "Screen { background: #000000; overflow: hidden; }"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+c,ctrl+q", "close_screen", show=False, priority=True)
    ]

    def __init__(self, source: Source, clock: Clock, boot: str, glyphs: Glyphs) -> None:
        super().__init__()
        self.clock = clock
        self.glyphs = glyphs
        self.view: View | None = None
        self.help_is_open = False
        self._boot = boot
        self._trouble = ""
        self._heard_ns = clock.monotonic_ns()
        self._said: tuple[Line, int] | None = None
        self._sheet = Sheet(WITHOUT_COLOUR if self.no_color else COLOURED)
        self._wanted: Window | None = None
        self.lookout = Lookout(source, clock, lambda: self._wanted, self.post_message)

    @abstractmethod
    def page(self, moment: Moment, width: int, height: int) -> list[Line]:
        """The whole screen at this moment."""

    @abstractmethod
    def window(self, width: int) -> Window | None:
        """The stretch that the chart should show at this width."""

    @abstractmethod
    def press(self, key: str) -> None:
        """Take a key that is not one of those that all screens share."""

    @property
    def cursor_s(self) -> float | None:
        """Where the cursor stands, run seconds; None without one."""
        return None

    def now_s(self) -> float:
        """Run seconds by the screen's clock; of a run that is over, its length."""
        view = self.view
        if view is None or view.segment is None:
            return 0.0
        if view.end_s is not None:
            return view.end_s
        speed = view.row.facts.clock_speed
        return RunTime(self.clock, view.segment, speed, self._boot).now_s()

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
        loop = asyncio.get_running_loop()
        for name in LEAVE_ON:
            number = getattr(signal, name, None)
            with suppress(NotImplementedError, RuntimeError):
                if number is not None:
                    loop.add_signal_handler(number, self._leave, number)
        self.lookout.start()
        self.set_interval(DRAW_EVERY_S, self.redraw)
        self.redraw()

    def on_unmount(self) -> None:
        self.lookout.stop()

    def on_resize(self, _: Resize) -> None:
        self.redraw()

    def on_looked(self, message: Looked) -> None:
        is_first = self.view is None
        self.view, self._trouble = message.view, ""
        self._heard_ns = self.clock.monotonic_ns()
        self.redraw()
        if is_first:
            self.lookout.look_now()

    def on_look_failed(self, message: LookFailed) -> None:
        self._trouble = message.trouble
        self._heard_ns = self.clock.monotonic_ns()
        self.redraw()

    def on_asked(self, message: Asked) -> None:
        if message.trouble:
            self.say(f"could not ask: {message.trouble}")
        else:
            self.say(f"asked the recorder: {message.what}")

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
            (CLOSE, self.action_close_screen),
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

    def takes_text(self, key: str) -> bool:
        """Take the key as text, where something is being written; True if so."""
        del key
        return False

    def acts_through_help(self, key: str) -> bool:
        """Whether a key that closes the help also does its own work."""
        return key in CLOSE

    def forget(self) -> None:
        """Drop what was half done."""

    def action_close_screen(self) -> None:
        """Close this screen; the recorder goes on."""
        self.exit(return_code=0)

    def moment(self) -> Moment:
        """What is drawn now."""
        now_ns = self.clock.monotonic_ns()
        if self._said is not None and now_ns - self._said[1] > SAID_FOR_S * 1e9:
            self._said = None
        trouble = self._trouble
        if not trouble and now_ns - self._heard_ns > HUNG_AFTER_S * 1e9:
            trouble = "the store does not answer"
        return Moment(
            view=self.view,
            now_s=self.now_s(),
            local_time=self._local_time(),
            glyphs=self.glyphs,
            trouble=trouble,
            said=self.last_row() or (None if self._said is None else self._said[0]),
            help_is_open=self.help_is_open,
            cursor_s=self.cursor_s,
        )

    def last_row(self) -> Line | None:
        """What the last row must show before anything said; None for nothing."""
        return None

    def redraw(self) -> None:
        """Draw what has changed."""
        width, height = self.size
        self._wanted = self.window(width)
        if width > 0 and height > 0:
            self._sheet.show(self.page(self.moment(), width, height))

    def _switch_glyphs(self) -> None:
        self.glyphs = next_set(self.glyphs)
        self._wanted = self.window(self.size.width)
        self.lookout.look_now()
        self.say(f"drawing in {self.glyphs.name}")

    def _open_help(self) -> None:
        self.help_is_open = True

    def _local_time(self) -> str:
        offset_s = 0 if self.view is None else self.view.row.utc_offset_s
        at_s = self.clock.utc_ns() // 1_000_000_000 + offset_s
        return datetime.fromtimestamp(at_s, UTC).strftime("%H:%M:%S")

    def _leave(self, number: int) -> None:
        self.exit(return_code=128 + number)

    def _fatal_error(self) -> None:
        # Textual's own would print every local variable of the failing frames.
        traceback = Traceback(show_locals=False, width=None)
        self._exit_renderables.append(
            Segments(self.console.render(traceback, self.console.options))
        )
        self._close_messages_no_wait()
