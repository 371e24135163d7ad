"""Random keys, pasted text and sizes for screens; only what ends a run on purpose is left out."""

import random
from dataclasses import dataclass, field

from tui.keys import END_RUN

NAMED = (
    "space", "enter", "escape", "tab", "shift+tab", "backspace", "delete", "insert", "left",
    "right", "up", "down", "home", "end", "pageup", "pagedown", "shift+left", "ctrl+a", "ctrl+z",
    "ctrl+l", "alt+x", "ctrl+up", "ctrl+pageup", "f1", "f4", "f10", "f12",
)  # fmt: skip
PRINTED = (*map(chr, range(0x21, 0x7F)), "ä", "ß", "€", "浴", "\u202e", "\x9b")
PASTED = ("ey", "/1", "they say", "8383", "sl" * 9, "e\ny\n", "\x1b[2J[bold]", "浴" * 300, "q")
QUIT = ("q",)


@dataclass
class Fuzz:
    """A reproducible stream of keys.

    Parameters
    ----------
    seed
        The same seed gives the same keys.
    """

    seed: int
    _dice: random.Random = field(init=False)
    _last: str = ""

    def __post_init__(self) -> None:
        self._dice = random.Random(self.seed)

    def key(self, without: tuple[str, ...] = ()) -> str:
        """The next key; never the one that would end the run after the last."""
        while True:
            one = self._dice.choice(NAMED if self._dice.random() < 0.25 else PRINTED)
            if one not in without and END_RUN.get(self._last) != one:
                self._last = one
                return one

    def paste(self) -> str:
        """Some text to paste."""
        return self._dice.choice(PASTED)

    def size(self) -> tuple[int, int]:
        """A terminal's columns and rows, from one by one to 300 by 100."""
        if self._dice.random() < 0.5:
            return self._dice.randint(1, 60), self._dice.randint(1, 20)
        return self._dice.randint(1, 300), self._dice.randint(1, 100)

    def happens(self, chance: float) -> bool:
        """True as often as this."""
        return self._dice.random() < chance
