"""The lookout: a slow or broken store holds up nobody but its thread."""

import threading
from collections.abc import Callable
from functools import partial

import pytest
from textual.message import Message

from monitor.model.request import RequestKind
from tests.tui import pictures
from tests.tui.stage import StillClock, StillSource
from tui.lookout import Lookout
from tui.messages import Asked, Broke, Looked, LookFailed
from tui.view import View, Window

WINDOW = Window(0.0, 600.0, 100)


class Ear:
    """Keeps what it is told, and lets a test wait for it."""

    def __init__(self) -> None:
        self.heard: list[Message] = []
        self._changed = threading.Condition()

    def __call__(self, message: Message) -> None:
        with self._changed:
            self.heard.append(message)
            self._changed.notify_all()

    def wait_for(self, enough: Callable[[list[Message]], bool]) -> None:
        with self._changed:
            assert self._changed.wait_for(lambda: enough(self.heard), timeout=10.0)


def source() -> StillSource:
    view = pictures.steady().view
    assert view is not None
    return StillSource(view)


def at_work(
    looks_at: StillSource, window: Callable[[], Window | None] = lambda: WINDOW
) -> tuple[Lookout, Ear, StillClock]:
    ear, clock = Ear(), StillClock(500.0)
    lookout = Lookout(looks_at, clock, window, ear)
    lookout.start()
    return lookout, ear, clock


def test_it_tells_what_it_sees_and_stops_when_told() -> None:
    seen = source()
    lookout, ear, _ = at_work(seen)
    ear.wait_for(lambda heard: len(heard) >= 2)
    lookout.stop()
    lookout.join(10.0)
    assert not lookout.is_alive()
    assert seen.is_closed
    assert all(isinstance(message, Looked) for message in ear.heard)


def test_the_chart_is_looked_up_less_often_than_the_values() -> None:
    seen = source()
    lookout, ear, clock = at_work(seen)
    ear.wait_for(lambda heard: len(heard) >= 5)
    assert len(seen.windows) == 1
    clock.run_s += 2.1
    told = len(ear.heard)
    ear.wait_for(lambda heard: len(heard) >= told + 3)
    assert len(seen.windows) == 2
    lookout.look_now()
    told = len(ear.heard)
    ear.wait_for(lambda heard: len(heard) >= told + 3)
    assert len(seen.windows) >= 3
    lookout.stop()


def test_a_store_that_cannot_be_read_is_told_and_tried_again() -> None:
    seen = source()
    seen.trouble = "its disk fails"
    lookout, ear, _ = at_work(seen)
    ear.wait_for(lambda heard: any(isinstance(message, LookFailed) for message in heard))
    seen.trouble = ""
    ear.wait_for(lambda heard: isinstance(heard[-1], Looked))
    lookout.stop()


def test_a_request_is_dropped_and_its_fate_is_told() -> None:
    seen = source()
    lookout, ear, _ = at_work(seen)
    lookout.do(partial(seen.ask, RequestKind.MARK, ""), "put a mark")
    ear.wait_for(lambda heard: any(isinstance(message, Asked) for message in heard))
    assert seen.asked == [(RequestKind.MARK, "")]
    seen.refusal = "the run has ended"
    lookout.do(partial(seen.ask, RequestKind.MARK, ""), "put a mark")
    ear.wait_for(lambda heard: any(isinstance(m, Asked) and bool(m.trouble) for m in heard))
    lookout.stop()


def test_requests_still_waiting_are_dropped_before_it_ends() -> None:
    seen = source()
    lookout, ear, _ = at_work(seen)
    ear.wait_for(lambda heard: len(heard) >= 1)
    lookout.do(partial(seen.ask, RequestKind.ACKNOWLEDGE, "tripped#1"), "acknowledge tripped")
    lookout.stop()
    lookout.join(10.0)
    assert seen.asked == [(RequestKind.ACKNOWLEDGE, "tripped#1")]


def test_a_bug_in_it_is_told_and_not_swallowed(monkeypatch: pytest.MonkeyPatch) -> None:
    seen = source()

    def fail(_: Window | None) -> View:
        raise ZeroDivisionError("a bug")

    monkeypatch.setattr(seen, "look", fail)
    lookout, ear, _ = at_work(seen)
    ear.wait_for(lambda heard: bool(heard))
    assert isinstance(ear.heard[-1], Broke)
    lookout.join(10.0)
    assert not lookout.is_alive()
