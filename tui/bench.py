"""What the overview shows: the latest picture of every supply in a store."""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from drivers.base.clock import Clock, SystemClock
from monitor.model.run import RunRow
from monitor.store.reader import Store, open_store
from tui.look import RunSource, StoreSource
from tui.view import View, Window

INTERRUPTED_FOR_S = 86_400.0
ENDED_FOR_S = 3_600.0
"""How long a run whose recorder is gone, and one that has ended, is still shown."""

NO_CHART = Window(0.0, 1.0, 1)


@dataclass(slots=True)
class BenchSource:
    """Looks at the newest run of every supply of a store that is, or was just now, at work.

    Parameters
    ----------
    path
        The store.
    clock
        The machine's own.
    window_of
        The stretch that a run's chart shows now; None where the one before still serves.
    """

    path: Path
    clock: Clock = field(default_factory=SystemClock)
    window_of: Callable[[int], Window | None] = lambda _: NO_CHART
    _store: Store | None = None
    _sources: dict[int, StoreSource] = field(default_factory=dict)

    def look(self, window: Window | None) -> tuple[View, ...]:
        """The pictures, in the order in which the supplies were first recorded."""
        del window
        try:
            if self._store is None:
                self._store = open_store(self.path)
            rows = _newest(self._store.runs())
            views = [self._view(row) for row in rows if not self._is_long_over(row)]
        except Exception:
            self.close()
            raise
        return tuple(view for view in views if not self._has_long_stopped(view))

    def source(self, run: int) -> RunSource:
        """Where a screen about one of them looks."""
        return StoreSource(self.path, run)

    def close(self) -> None:
        """Give back what was opened."""
        for source in self._sources.values():
            source.close()
        self._sources.clear()
        if self._store is not None:
            self._store.close()
        self._store = None

    def _view(self, row: RunRow) -> View:
        source = self._sources.setdefault(row.run, StoreSource(self.path, row.run))
        return source.look(self.window_of(row.run))

    def _is_long_over(self, row: RunRow) -> bool:
        if row.ended_utc_ns is None:
            return False
        return abs(self.clock.utc_ns() - row.ended_utc_ns) > ENDED_FOR_S * 1e9

    def _has_long_stopped(self, view: View) -> bool:
        newest_ns = view.row.began_utc_ns if view.last is None else view.last.utc_ns
        is_old = abs(self.clock.utc_ns() - newest_ns) > INTERRUPTED_FOR_S * 1e9
        return is_old and not view.ended and view.row.facts.clock_speed == 1


def _newest(rows: list[RunRow]) -> list[RunRow]:
    """The newest run of each supply, in the order in which the supplies came."""
    newest: dict[str, RunRow] = {}
    for row in rows:
        newest[row.facts.supply] = row
    return list(newest.values())
