"""Failures of the recorder's own parts: each raises `part-failed`, with its traceback in the run.

Every part has a thread of its own. One that dies would be missed only when it is needed: a sound
that does not come, a notice that nobody sends.
"""

import threading
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from drivers.base.clock import Clock
from monitor.model.alarm import AlarmName
from monitor.model.event import Status
from monitor.model.finding import Finding
from monitor.text.badges import part_failed

TRACE = 4_000
"""Characters of a failure of ours that are kept in the run."""


class Mishaps:
    """Takes the failures of one recorder's own parts.

    Parameters
    ----------
    report
        Called with the alarm's finding.
    note_status
        Called with the part's state, whose text ends in the traceback.
    """

    def __init__(
        self, real: Clock, report: Callable[[Finding], None], note_status: Callable[[Status], None]
    ) -> None:
        self._real = real
        self._report = report
        self._note_status = note_status
        self._told: list[str] = []

    def take(self, part: str, bug: BaseException) -> None:
        """Tell of a part that broke; the first time at each part."""
        if part in self._told:
            return
        self._told.append(part)
        trace = traceback_of(bug)
        text = f"{part_failed(part)}: {type(bug).__name__}: {bug}\n{trace}"
        self._note_status(Status(part, self._real.utc_ns(), text, False))
        words = "; ".join(f"{name} failed" for name in self._told)
        self._report(Finding(AlarmName.PART_FAILED, True, f"{words} ({type(bug).__name__}: {bug})"))

    @contextmanager
    def watches_threads(self) -> Iterator[None]:
        """Be told of every thread that dies while the context lasts."""
        before = threading.excepthook

        def died(died: "threading.ExceptHookArgs") -> None:
            if died.exc_value is not None:
                self.take(died.thread.name if died.thread else "a thread", died.exc_value)
            # Last, since it prints: nobody may be reading.
            before(died)

        threading.excepthook = died
        try:
            yield
        finally:
            threading.excepthook = before


def traceback_of(bug: BaseException) -> str:
    """The end of a failure's traceback."""
    return "".join(traceback.format_exception(bug))[-TRACE:]
