"""Screens on a stage: a still clock, a source with one picture, and ways to see the result."""

import threading
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from dataclasses import dataclass, field

from textual.events import Key
from textual.pilot import Pilot

from monitor.base.errors import StoreError
from monitor.model.card import JobCard
from monitor.model.outcome import Outcome
from monitor.model.request import RequestKind
from tests.tui import pictures
from tui.baths import BathPage, BathsSource
from tui.desk import Desk
from tui.glyphs import BRAILLE, Glyphs
from tui.ink import plain
from tui.live import LiveScreen
from tui.moment import Moment
from tui.review import ReviewScreen
from tui.sheet import Sheet
from tui.sheet_screen import SheetScreen
from tui.view import View, Window

CHARACTERS = {"space": " ", "enter": "\r"}


@dataclass
class StillClock:
    """Stands still until it is moved; waiting ends soon, so that nothing is held up."""

    run_s: float

    def monotonic_ns(self) -> int:
        return int(self.run_s * 1e9) + pictures.segment().began_monotonic_ns

    def utc_ns(self) -> int:
        return pictures.BEGAN_UTC_NS + int(self.run_s * 1e9)

    def wait(self, seconds: float, until: threading.Event | None = None) -> bool:
        return until.wait(0.1) if until is not None else False


@dataclass
class NoBaths:
    """A ledger without any bath; keeps which was asked for."""

    bath: str

    def look(self, window: Window | None) -> BathPage:
        return BathPage()

    def choose(self, bath: str) -> None:
        self.bath = bath

    def close(self) -> None:
        """Nothing is open."""


@dataclass
class StillSource:
    """Shows one picture, or what is put in its place; keeps what was asked for."""

    view: View
    trouble: str = ""
    refusal: str = ""
    asked: list[tuple[RequestKind, str]] = field(default_factory=list)
    windows: list[Window] = field(default_factory=list)
    texts: list[tuple[int, str]] = field(default_factory=list)
    cards: list[JobCard] = field(default_factory=list)
    planned: list[JobCard] = field(default_factory=list)
    outcomes: list[Outcome] = field(default_factory=list)
    is_closed: bool = False

    def look(self, window: Window | None) -> View:
        if self.trouble:
            raise StoreError(self.trouble)
        if window is not None:
            self.windows.append(window)
        return self.view

    def ask(self, kind: RequestKind, detail: str) -> None:
        if self.refusal:
            raise StoreError(self.refusal)
        self.asked.append((kind, detail))

    def add_mark_text(self, number: int, text: str) -> None:
        self.texts.append((number, text))

    def put_card(self, card: JobCard) -> None:
        self.cards.append(card)

    def plan_for(self, card: JobCard) -> None:
        self.planned.append(card)

    def put_outcome(self, outcome: Outcome) -> None:
        self.outcomes.append(outcome)

    def another(self) -> "StillSource":
        return self

    def ledger(self, bath: str) -> BathsSource:
        return NoBaths(bath)

    def close(self) -> None:
        self.is_closed = True


def on_stage(
    moment: Moment,
    kind: type[LiveScreen] | type[ReviewScreen] = LiveScreen,
    glyphs: Glyphs = BRAILLE,
) -> tuple[LiveScreen | ReviewScreen, StillSource, StillClock]:
    """A screen of this kind that shows the moment's picture, at its time."""
    assert moment.view is not None
    clock = StillClock(moment.now_s)
    source = StillSource(moment.view)
    return kind(source, clock, pictures.BOOT, glyphs), source, clock


def shown(screen: SheetScreen, size: tuple[int, int]) -> AbstractAsyncContextManager[Pilot[None]]:
    """The screen on a terminal of this size, while the context lasts."""
    return Desk(screen).run_test(size=size)


async def settled(app: SheetScreen, pilot: Pilot[None]) -> None:
    """Wait until the first picture is shown."""
    await until(pilot, lambda: app.has_looked, "a first picture")
    await pilot.pause()


async def strike(app: SheetScreen, pilot: Pilot[None], *keys: str) -> None:
    """Press keys quickly one after the other, by Textual's names or as single characters."""
    for key in keys:
        name = {" ": "space"}.get(key, key)
        char = name if len(name) == 1 else CHARACTERS.get(name)
        app.app.post_message(Key(name, char))
        await pilot.pause(0)
    await pilot.pause()


async def until(pilot: Pilot[None], holds: Callable[[], bool], what: str) -> None:
    """Wait until something holds; fails after some seconds."""
    for _ in range(200):
        if holds():
            return
        await pilot.pause(0.01)
    raise AssertionError(f"in vain: {what}")


def text_of(app: SheetScreen) -> str:
    """What stands on the screen, without colours."""
    return "\n".join(plain(line) for line in app.query_one(Sheet).lines)
