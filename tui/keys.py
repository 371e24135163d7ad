"""The keys: what each does, said once for the help, the last row and the README.

Every key is a single one without Shift or Ctrl, as gloves need; the numeric pad alone is enough.
None does harm alone: the run is ended by two different keys, one soon after the other.
"""

from dataclasses import dataclass

ARMED_FOR_S = 5.0


@dataclass(frozen=True, slots=True)
class Key:
    """One key as the operator knows it.

    Parameters
    ----------
    names
        What it is called, such as "SPACE"; the first stands in the last row.
    does
        Two or three words for the last row.
    means
        A sentence for the help.
    """

    names: tuple[str, ...]
    does: str
    means: str


LIVE_KEYS = (
    Key(("SPACE", "ENTER", "0"), "acknowledge", "acknowledge the worst alarm; says which"),
    Key(("m", "*"), "mark", "put a numbered mark on this moment"),
    Key(("n",), "note", "write a note; ENTER keeps it, ESC drops it"),
    Key(("+",), "closer", "show a shorter stretch on the chart"),
    Key(("-",), "wider", "show a longer stretch on the chart"),
    Key(("g",), "glyphs", "draw in braille, blocks or plain ASCII"),
    Key(("e then y", "/ then 1"), "end run", "end the run: the second key within 5 seconds"),
    Key(("?", "h"), "help", "this list; any key closes it"),
    Key(("q",), "close", "close this screen; the recorder goes on"),
)

REVIEW_KEYS = (
    Key(("ARROWS",), "cursor", "left, right: one column; up, down: the event before, the next"),
    Key(("+",), "closer", "zoom in at the cursor"),
    Key(("-",), "wider", "zoom out"),
    Key(("0",), "whole run", "show the whole run"),
    Key(("PAGE UP, DOWN",), "leap", "move the cursor by a tenth of the chart"),
    Key(("HOME, END",), "ends", "go to the run's first or last moment"),
    Key(("g",), "glyphs", "draw in braille, blocks or plain ASCII"),
    Key(("?", "h"), "help", "this list; any key closes it"),
    Key(("q",), "close", "close this screen"),
)

ACKNOWLEDGE = frozenset({"space", "enter", "0"})
MARK = frozenset({"m", "*"})
NOTE = frozenset({"n"})
CLOSER = frozenset({"+", "="})
WIDER = frozenset({"-"})
GLYPHS = frozenset({"g"})
HELP = frozenset({"?", "h"})
CLOSE = frozenset({"q"})
END_RUN = {"e": "y", "/": "1"}
"""The first key of ending a run, and the second that must follow it."""


class EndGuard:
    """Lets a run be ended only by two different keys in a row, the second within 5 seconds."""

    def __init__(self) -> None:
        self._first: str | None = None
        self._armed_ns = 0

    @property
    def is_armed(self) -> bool:
        """True while the second key is awaited."""
        return self._first is not None

    @property
    def second(self) -> str:
        """The key that would end the run now; "" while none would."""
        return "" if self._first is None else END_RUN[self._first]

    def press(self, key: str, now_ns: int) -> bool:
        """Take one key; True when it completes the pair. Any other key disarms."""
        self.expire(now_ns)
        if self._first is not None:
            done = key == self.second
            self._first = None
            return done
        if key in END_RUN:
            self._first, self._armed_ns = key, now_ns
        return False

    def expire(self, now_ns: int) -> bool:
        """Disarm once the time is up; True where that happened just now."""
        if self._first is None or now_ns - self._armed_ns <= ARMED_FOR_S * 1e9:
            return False
        self._first = None
        return True
