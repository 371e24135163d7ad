"""The one thread that looks at the store for all phones, and the board that it pins the news on.

However many phones are open, the store is looked at twice a second. A store that hangs holds up
this thread alone; the phones then hear nothing new, and say so.
"""

import json
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from drivers.base.clock import Clock
from monitor.base.errors import StoreError
from tui.bench import NO_CHART, BenchSource
from tui.moment import Moment
from tui.phone.bulletin import bulletin, chart_of, run_of, window_at, worst_first
from tui.run_time import now_s
from tui.view import View, Window

LOOK_EVERY_S = 0.5
CHART_EVERY = 4
"""A chart with every so many looks."""


@dataclass(frozen=True, slots=True)
class News:
    """What was seen last, as bytes ready to be sent: one text for all supplies, a chart for each.

    `count` grows with each look, `charts_count` with each chart.
    """

    count: int = 0
    state: bytes = b""
    charts_count: int = 0
    charts: dict[int, bytes] = field(default_factory=dict)
    worst: int = 0


class Watcher(threading.Thread):
    """Looks at the store until it is stopped.

    Parameters
    ----------
    store
        The file of runs. It need not be there yet.
    clock, boot
        The machine's own clock, and the name of its present boot.
    tell
        Takes each news; called from this thread.
    broke
        Called once where a bug of ours ends the thread.
    """

    def __init__(
        self,
        store: Path,
        clock: Clock,
        boot: str,
        tell: Callable[[News], object],
        broke: Callable[[BaseException], object],
    ) -> None:
        super().__init__(name="watcher", daemon=True)
        self._source = BenchSource(store, clock, self._window_of)
        self._clock, self._boot = clock, boot
        self._tell, self._broke = tell, broke
        self._over = threading.Event()
        self._views: tuple[View, ...] = ()
        self._numbers: dict[str, int] = {}
        self._news = News()

    def stop(self) -> None:
        """Let the thread end; does not wait for it, since the store may hang."""
        self._over.set()

    def run(self) -> None:
        try:
            while not self._over.is_set():
                self._tell(self.look())
                self._clock.wait(LOOK_EVERY_S, self._over)
            self._source.close()
        except Exception as error:
            # A bug of ours: the page must fail with it, not stand still.
            self._broke(error)

    def look(self) -> News:
        """Look once; what the phones are to show."""
        trouble = ""
        try:
            self._views = self._source.look(None)
            if any(view.chart.window == NO_CHART for view in self._views):
                # Seen for the first time: now it is known which stretch its chart shows.
                self._views = self._source.look(None)
        except StoreError as error:
            trouble = str(error)
        for view in self._views:
            self._numbers.setdefault(view.row.facts.supply, len(self._numbers) + 1)
        offset_s = self._views[0].row.utc_offset_s if self._views else 0
        at_s = self._clock.utc_ns() // 1_000_000_000 + offset_s
        local_time = datetime.fromtimestamp(at_s, UTC).strftime("%H:%M:%S")
        moments = worst_first([self._moment(view, trouble) for view in self._views])
        facts = bulletin(moments, local_time, trouble)
        # By this the page tells news that come late: a phone's own clock may be off.
        facts["t"] = round(self._clock.monotonic_ns() / 1e9, 3)
        old, draws = self._news, self._draws()
        charts = {run_of(moment): as_bytes(chart_of(moment)) for _, moment in moments if draws}
        self._news = News(
            count=old.count + 1,
            state=as_bytes(facts),
            charts_count=old.charts_count + draws,
            charts=charts if draws else old.charts,
            worst=run_of(moments[0][1]) if moments else 0,
        )
        return self._news

    def _draws(self) -> bool:
        """Whether this look is one with charts; always where a supply came or went."""
        runs = {view.row.run for view in self._views}
        return self._news.count % CHART_EVERY == 0 or runs != set(self._news.charts)

    def _moment(self, view: View, trouble: str) -> tuple[int, Moment]:
        number = self._numbers[view.row.facts.supply]
        now = now_s(view, self._clock, self._boot)
        return number, Moment(view, now, trouble=trouble)

    def _window_of(self, run: int) -> Window | None:
        view = next((view for view in self._views if view.row.run == run), None)
        if view is None:
            return NO_CHART
        return window_at(now_s(view, self._clock, self._boot)) if self._draws() else None


def as_bytes(facts: dict[str, object]) -> bytes:
    """As JSON, ready to be sent."""
    return json.dumps(facts, separators=(",", ":"), allow_nan=False).encode()
