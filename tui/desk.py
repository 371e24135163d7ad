"""The program around the screens: one stack of them, signals, and the way out.

It opens nothing. Whatever ends it gives the terminal back, and a crash shows no values.
"""

import asyncio
import os
import signal
import sys
from collections.abc import Sequence
from contextlib import suppress
from typing import ClassVar

from rich.console import Console
from rich.segment import Segments
from rich.traceback import Traceback
from textual.app import App
from textual.binding import Binding, BindingType

from tui.last_look import has_terminal
from tui.sheet_screen import SheetScreen

LEAVE_ON = ("SIGTERM", "SIGHUP", "SIGINT", "SIGQUIT", "SIGABRT")

LOOK_AROUND_EVERY_S = 0.5


class Desk(App[None]):
    """Shows the last of these screens; leaving it shows the one before, and then ends.

    Parameters
    ----------
    screens
        From the lowest to the one that is seen first.
    begun_by
        The process whose child this is; the screens leave when it is gone.
    """

    TITLE = "bathvigil"
    CSS = "Screen { background: #000000; overflow: hidden; }"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+c,ctrl+q", "end", show=False, priority=True)
    ]

    def __init__(self, *screens: SheetScreen, begun_by: int | None = None) -> None:
        super().__init__()
        # Where it tells of a crash: its own would follow a redirected stderr.
        self.error_console = Console(file=sys.__stderr__, markup=False, highlight=False)
        self._first = screens
        self._begun_by = os.getppid() if begun_by is None else begun_by
        self._had_terminal = False

    @property
    def sheets(self) -> Sequence[SheetScreen]:
        """The open screens, the lowest first."""
        return [screen for screen in self.screen_stack if isinstance(screen, SheetScreen)]

    def on_mount(self) -> None:
        loop = asyncio.get_running_loop()
        for name in LEAVE_ON:
            number = getattr(signal, name, None)
            with suppress(NotImplementedError, RuntimeError):
                if number is not None:
                    loop.add_signal_handler(number, self._leave, number)
        if not self.is_headless:
            self.set_interval(LOOK_AROUND_EVERY_S, self._leave_if_abandoned)
        self._had_terminal = has_terminal()  # a browser's screen has none
        for screen in self._first:
            self.push_screen(screen)

    def action_end(self) -> None:
        """Close all screens; the recorder goes on."""
        self.exit(return_code=0)

    def _leave(self, number: int) -> None:
        self.exit(return_code=128 + number)

    def _leave_if_abandoned(self) -> None:
        # Without a HUP (no controlling terminal) Textual goes on drawing, at half a core; and a
        # screen whose command was killed would share the terminal with the shell.
        is_lost = self._had_terminal and not has_terminal()
        if is_lost or os.getppid() != self._begun_by:
            self._leave(signal.SIGHUP if hasattr(signal, "SIGHUP") else 1)

    def _fatal_error(self) -> None:
        # Textual's own would print every local variable of the failing frames.
        traceback = Traceback(show_locals=False, width=None)
        self._exit_renderables.append(
            Segments(self.console.render(traceback, self.console.options))
        )
        self._close_messages_no_wait()
