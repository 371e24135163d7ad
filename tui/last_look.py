"""Ends a screen whose terminal has gone away, even where its loop is stuck.

What writes to the terminal is a thread of the screen library, and it dies of the first write to a
terminal that is gone. Thirty writes later the loop waits for it for ever, deaf to its own timers
and signals, while the thread of the keys reads nothing at full speed.
"""

import os
import signal
import sys
import threading

LOOK_EVERY_S = 2.0
LOOKS = 3
"""So often gone in a row: the loop, which leaves within half a second, has had its time."""


class LastLook(threading.Thread):
    """Ends the process, without a word, a few seconds after its terminal is gone."""

    def __init__(self, every_s: float = LOOK_EVERY_S) -> None:
        super().__init__(daemon=True, name="last look")
        self._every_s = every_s
        self._over = threading.Event()

    def run(self) -> None:
        gone = 0
        while not self._over.wait(self._every_s):
            gone = 0 if has_terminal() else gone + 1
            if gone == LOOKS:
                # There is nobody to give the terminal back to, and nothing here is unsaved.
                os._exit(128 + getattr(signal, "SIGHUP", 1))

    def stop(self) -> None:
        """The screen has closed by itself."""
        self._over.set()


def has_terminal() -> bool:
    """Whether the terminal of this process, as it began, is still there."""
    return sys.__stderr__ is not None and sys.__stderr__.isatty()
