"""The keys: what each does, said once for the help, the last row and the pages.

Every key is a single one without Shift or Ctrl, as gloves need; the numeric pad alone is enough.
None does harm alone: a run is ended, and an alarm shelved, by two different keys in a row.
"""

from collections.abc import Mapping
from dataclasses import dataclass

ARMED_FOR_S = 5.0
LEAST_APART_S = 0.1
"""No finger goes from one key to another so fast; pasted text and a shaken keyboard do."""


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
    Key(("x", "5"), "next step", "go to the job's next step, or confirm what is asked"),
    Key(("w", "7"), "wetting", "the result: is the chromium gone, does the film hold"),
    Key(("e then y", "/ then 1"), "end run", "end the run: the second key within 5 seconds"),
    Key(("s then l", "8 then 3"), "shelve", "ten minutes without this alarm; press again to undo"),
    Key(("j",), "job card", "fill in or correct the job card"),
    Key(("l",), "ledger", "the ledger of this run's bath"),
    Key(("+",), "closer", "show a shorter stretch on the chart"),
    Key(("-",), "wider", "show a longer stretch on the chart"),
    Key(("g",), "glyphs", "draw in braille, blocks or plain ASCII"),
    Key((".", "b"), "all supplies", "all supplies at once"),
    Key(("?", "h"), "help", "this list; any key closes it"),
    Key(("q",), "close", "close this screen; the recorder goes on"),
)

REVIEW_KEYS = (
    Key(("ARROWS",), "cursor", "left, right: one column; up, down: the event before, the next"),
    Key(("+",), "closer", "zoom in at the cursor"),
    Key(("-",), "wider", "zoom out"),
    Key(("0",), "whole run", "show the whole run"),
    Key(("t",), "text", "add a text to the mark at the cursor"),
    Key(("w",), "wetting", "the result: is the chromium gone, does the film hold"),
    Key(("j",), "job card", "fill in or correct the job card"),
    Key(("l",), "ledger", "the ledger of this run's bath"),
    Key(("x",), "story", "what happened first, in order, and what to do; again closes it"),
    Key(("PAGE UP, DOWN",), "leap", "move the cursor by a tenth of the chart"),
    Key(("HOME, END",), "ends", "go to the run's first or last moment"),
    Key(("g",), "glyphs", "draw in braille, blocks or plain ASCII"),
    Key(("?", "h"), "help", "this list; any key closes it"),
    Key(("q",), "close", "close this screen"),
)

OVERVIEW_KEYS = (
    Key(("1 to 9",), "look closer", "the supply of this number; q comes back"),
    Key(("ENTER",), "the worst", "the supply that stands at the top, or the chosen one"),
    Key(("ARROWS",), "choose", "choose a supply"),
    Key(("j",), "job card", "fill in the job card of the chosen supply"),
    Key(("g",), "glyphs", "draw in braille, blocks or plain ASCII"),
    Key(("?", "h"), "help", "this list; any key closes it"),
    Key(("q",), "close", "close this screen; the recorder goes on"),
)

LIST_KEYS = (
    Key(("ENTER",), "open", "look at the chosen run"),
    Key(("ARROWS",), "choose", "choose a run; PAGE UP, PAGE DOWN, HOME and END too"),
    Key(("f",), "find", "words to find; supply: bath: part: outcome: from: until: for one thing"),
    Key(("SPACE",), "pick", "pick this run, or put it back"),
    Key(("c",), "compare", "two to six picked runs side by side"),
    Key(("l",), "ledger", "the ledger of this run's bath"),
    Key(("r",), "all", "show all runs again and put the picked ones back"),
    Key(("g",), "glyphs", "draw in braille, blocks or plain ASCII"),
    Key(("?", "h"), "help", "this list; any key closes it"),
    Key(("q",), "close", "close this screen"),
)

LEDGER_KEYS = (
    Key(("UP, DOWN",), "scroll", "scroll; PAGE UP, PAGE DOWN, HOME and END too"),
    Key(("LEFT, RIGHT",), "other bath", "the ledger of another bath"),
    Key(("g",), "glyphs", "draw in braille, blocks or plain ASCII"),
    Key(("?", "h"), "help", "this list; any key closes it"),
    Key(("q",), "back", "back to where you came from"),
)

COMPARE_KEYS = (
    Key(("a",), "align", "align the runs on their start, or on a mark"),
    Key(("g",), "glyphs", "draw in braille, blocks or plain ASCII"),
    Key(("?", "h"), "help", "this list; any key closes it"),
    Key(("q",), "back", "back to the list of runs"),
)

ACKNOWLEDGE = frozenset({"space", "enter", "0"})
MARK = frozenset({"m", "*"})
NOTE = frozenset({"n"})
CLOSER = frozenset({"+", "="})
WIDER = frozenset({"-"})
GLYPHS = frozenset({"g"})
HELP = frozenset({"?", "h"})
CLOSE = frozenset({"q"})
RINSE = frozenset({"w", "7"})
NEXT_STEP = frozenset({"x", "5"})
CARD = frozenset({"j"})
LEDGER = frozenset({"l"})
BACK = frozenset({".", "b"})
CHOOSE = {
    "up": -1,
    "down": +1,
    "pageup": -10,
    "pagedown": +10,
    "home": -1_000_000,
    "end": 1_000_000,
}
"""Keys of a list, and how many rows each goes."""
UP_TO_NINE = frozenset("123456789")
SHELVE = {"s": "l", "8": "3"}
"""The first key of shelving an alarm, and the second that must follow it."""
END_RUN = {"e": "y", "/": "1"}
"""The first key of ending a run, and the second that must follow it."""


class TwoKeys:
    """Lets something be done only by two different keys in a row, the second within 5 seconds.

    A second key that comes in the same instant is not taken; it is waited for on.

    Parameters
    ----------
    pairs
        The second key of each first one.
    """

    def __init__(self, pairs: Mapping[str, str] = END_RUN) -> None:
        self._pairs = pairs
        self._first: str | None = None
        self._armed_ns = 0

    @property
    def is_armed(self) -> bool:
        """True while the second key is awaited."""
        return self._first is not None

    @property
    def second(self) -> str:
        """The key that would do it now; "" while none would."""
        return "" if self._first is None else self._pairs[self._first]

    def press(self, key: str, now_ns: int) -> bool:
        """Take one key; True when it completes the pair. Any other key disarms."""
        self.expire(now_ns)
        if self._first is not None:
            is_second = key == self.second
            if is_second and now_ns - self._armed_ns < LEAST_APART_S * 1e9:
                return False
            self._first = None
            return is_second
        if key in self._pairs:
            self._first, self._armed_ns = key, now_ns
        return False

    def expire(self, now_ns: int) -> bool:
        """Disarm once the time is up; True where that happened just now."""
        if self._first is None or now_ns - self._armed_ns <= ARMED_FOR_S * 1e9:
            return False
        self._first = None
        return True
