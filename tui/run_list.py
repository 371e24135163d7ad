"""The list of runs: find one, look at it, or pick two to six and lay them side by side."""

from drivers.base.clock import Clock
from drivers.base.inert import inert
from tui.archive import Entry, RunsSource, chosen
from tui.compare import CompareScreen
from tui.glyphs import Glyphs
from tui.ink import Ink, Line
from tui.keys import CHOOSE, LEDGER
from tui.ledger import LedgerScreen
from tui.moment import Moment
from tui.note import Note
from tui.panels.runs import draw_runs
from tui.review import ReviewScreen
from tui.sheet_screen import SheetScreen
from tui.side_by_side import LEAST, MOST

HINT = "  ENTER keeps it. Also supply: bath: part: outcome: from: until:"


class RunListScreen(SheetScreen):
    """See `SheetScreen`.

    Parameters
    ----------
    boot
        Name of the machine's present boot.
    """

    def __init__(self, source: RunsSource, clock: Clock, boot: str, glyphs: Glyphs) -> None:
        super().__init__(source, clock, glyphs)
        self._runs = source
        self._boot = boot
        self._all: tuple[Entry, ...] = ()
        self._at = 0
        self._picked: dict[int, None] = {}
        self._words = ""
        self._note = Note()

    @property
    def entries(self) -> tuple[Entry, ...]:
        """The runs that are shown."""
        return chosen(self._all, self._note.text if self._note.is_open else self._words)

    def is_news(self, seen: object) -> bool:
        return seen != self._all

    def take(self, seen: object) -> None:
        assert isinstance(seen, tuple)
        self._all = seen

    def draw(self, width: int, height: int) -> list[Line]:
        entries = self.entries
        self._at = min(max(self._at, 0), max(len(entries) - 1, 0))
        whole = Moment(
            None,
            glyphs=self.glyphs,
            trouble=self.trouble,
            said=self.said,
            help_is_open=self.help_is_open,
        )
        return draw_runs(entries, self._at, self._picked.keys(), self._words, whole, width, height)

    def takes_paste(self) -> bool:
        return self._note.is_open

    def takes_text(self, key: str) -> bool:
        if not self._note.is_open:
            return False
        if key == "enter":
            self._words = self._note.text.strip()
            self._note.close()
        else:
            self._note.type(key, self.clock.monotonic_ns())
        return True

    def last_row(self) -> Line | None:
        if not self._note.is_open:
            return None
        text = self.glyphs.text(inert(self._note.text))
        return ((f" FIND: {text}_ ", Ink.ASKED), (HINT, Ink.PLAIN))

    def press(self, key: str) -> None:
        entries = self.entries
        if key == "f":
            self._note.open(self.clock.monotonic_ns())
        elif key == "r":
            self._words = ""
            self._picked.clear()
        elif key == "c":
            self._compare()
        elif not entries:
            return
        elif key in CHOOSE:
            self._at = min(max(self._at + CHOOSE[key], 0), len(entries) - 1)
        elif key == "enter":
            source = self._runs.source(entries[self._at].row.run)
            self.app.push_screen(ReviewScreen(source, self.clock, self._boot, self.glyphs))
        elif key in LEDGER:
            baths = self._runs.ledger(entries[self._at].bath)
            self.app.push_screen(LedgerScreen(baths, self.clock, self.glyphs))
        elif key == "space":
            self._pick(entries[self._at].row.run)

    def _pick(self, run: int) -> None:
        if run in self._picked:
            del self._picked[run]
        elif len(self._picked) < MOST:
            self._picked[run] = None
        else:
            self.say(f"{MOST} runs are the most that can be compared")

    def _compare(self) -> None:
        if len(self._picked) < LEAST:
            self.say(f"pick {LEAST} to {MOST} runs first, with SPACE")
            return
        source = self._runs.beside(tuple(self._picked))
        self.app.push_screen(CompareScreen(source, self.clock, self.glyphs))
