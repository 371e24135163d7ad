"""A thread that looks at the store for a screen, so that the screen itself never waits for a disk.

It tells what it saw through `tell`, which must be safe to call from another thread. A store that
hangs holds up this thread alone; the screen sees by its own clock that nothing new is told.
"""

import threading
from collections.abc import Callable
from queue import Empty, SimpleQueue

from textual.message import Message

from drivers.base.clock import Clock
from monitor.base.errors import StoreError
from tui.look import Source
from tui.messages import Asked, Broke, Looked, LookFailed
from tui.view import Window

LOOK_EVERY_S = 0.25
CHART_EVERY_S = (0.5, 2.0)
"""How often the chart is looked up anew: a quarter of its column, within these bounds."""


class Lookout(threading.Thread):
    """Looks and asks until it is stopped.

    Parameters
    ----------
    source
        Used and closed by this thread alone.
    clock
        The machine's own clock.
    window
        The stretch that the chart shows now; None for no chart. Called from this thread.
    tell
        Takes what was seen, what went wrong, and what became of a request.
    """

    def __init__(
        self,
        source: Source,
        clock: Clock,
        window: Callable[[], Window | None],
        tell: Callable[[Message], object],
    ) -> None:
        super().__init__(name="lookout", daemon=True)
        self._source = source
        self._clock = clock
        self._window = window
        self._tell = tell
        self._errands: SimpleQueue[tuple[Callable[[], object], str]] = SimpleQueue()
        self._wake = threading.Event()
        self._over = False
        self._rests = False
        self._shown: Window | None = None
        self._shown_ns = 0

    def do(self, errand: Callable[[], object], what: str) -> None:
        """Let something be done in this thread, such as a request be dropped.

        `what` names it in the `Asked` that tells how it went; what may go wrong is a `StoreError`.
        """
        self._errands.put((errand, what))
        self._wake.set()

    def rest(self) -> None:
        """Look no more until `look_now`; errands are done all the same."""
        self._rests = True

    def look_now(self) -> None:
        """Look without waiting for the next turn, with the chart."""
        self._shown = None
        self._rests = False
        self._wake.set()

    def stop(self) -> None:
        """Let the thread end; does not wait for it, since the store may hang."""
        self._over = True
        self._wake.set()

    def run(self) -> None:
        try:
            while not self._over:
                self._wake.clear()
                self._do_errands()
                if not self._rests:
                    self._look()
                self._clock.wait(LOOK_EVERY_S, self._wake)
            self._do_errands()
            self._source.close()
        except Exception as error:
            # A bug of ours: the screen must fail with it, not stand still.
            self._tell(Broke(error))

    def _look(self) -> None:
        wanted = self._window()
        try:
            seen = self._source.look(wanted if self._is_due(wanted) else None)
        except StoreError as error:
            self._shown = None
            self._tell(LookFailed(str(error)))
        else:
            self._tell(Looked(seen))

    def _is_due(self, wanted: Window | None) -> bool:
        if wanted is None:
            return False
        now_ns, shown = self._clock.monotonic_ns(), self._shown
        is_same = shown is not None and (shown.count, shown.column_s) == (
            wanted.count,
            wanted.column_s,
        )
        least_s, most_s = CHART_EVERY_S
        pause_s = min(max(wanted.column_s / 4.0, least_s), most_s)
        if is_same and now_ns - self._shown_ns < pause_s * 1e9:
            return False
        self._shown, self._shown_ns = wanted, now_ns
        return True

    def _do_errands(self) -> None:
        while True:
            try:
                errand, what = self._errands.get_nowait()
            except Empty:
                return
            try:
                errand()
            except StoreError as error:
                self._tell(Asked(what, str(error)))
            else:
                self._tell(Asked(what))
