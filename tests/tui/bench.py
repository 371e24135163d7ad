"""Several supplies at once, for the overview's tests."""

from dataclasses import dataclass, field, replace

from monitor.base.errors import StoreError
from tests.tui import pictures
from tests.tui.stage import StillClock, StillSource
from tui.glyphs import ASCII, Glyphs
from tui.look import RunSource
from tui.moment import Moment
from tui.overview import OverviewScreen
from tui.view import View, Window

NOW_S = 1000.0


def seen(moment: Moment, supply: str, bath: str, run: int) -> View:
    """The picture of a moment, as if it were now and of this supply."""
    view = moment.view
    assert view is not None
    assert view.last is not None
    by_ns = round((NOW_S - 0.1 - view.last.t_s) * 1e9)
    facts = replace(view.row.facts, supply=supply, bath=bath)
    sample = view.last_sample
    return replace(
        view,
        row=replace(view.row, run=run, facts=facts),
        last=replace(view.last, t_ns=view.last.t_ns + by_ns),
        last_sample=None if sample is None else replace(sample, t_ns=sample.t_ns + by_ns),
        alarms=tuple(replace(event, t_ns=event.t_ns + by_ns) for event in view.alarms),
    )


def four_supplies() -> tuple[View, ...]:
    """A steady one, a rising one, one that has cut out, and one that just starts."""
    return (
        seen(pictures.steady(), "bench-1", "north tank", 11),
        seen(pictures.rising(), "bench-2", "swab pot", 12),
        seen(pictures.cut_out(), "bench-3", "south tank", 13),
        seen(pictures.starting(), "bench-4", "", 14),
    )


@dataclass
class StillBench:
    """Shows these supplies, or what is put in their place."""

    views: tuple[View, ...]
    trouble: str = ""
    opened: list[int] = field(default_factory=list)
    sources: dict[int, StillSource] = field(default_factory=dict)

    def look(self, window: Window | None) -> tuple[View, ...]:
        assert window is None
        if self.trouble:
            raise StoreError(self.trouble)
        return self.views

    def source(self, run: int) -> RunSource:
        self.opened.append(run)
        (view,) = (view for view in self.views if view.row.run == run)
        return self.sources.setdefault(run, StillSource(view))

    def close(self) -> None:
        return None


def overview(
    views: tuple[View, ...] | None = None, glyphs: Glyphs = ASCII, asks_card: bool = False
) -> tuple[OverviewScreen, StillBench]:
    bench = StillBench(four_supplies() if views is None else views)
    clock = StillClock(NOW_S)
    return OverviewScreen(bench, clock, pictures.BOOT, glyphs, asks_card), bench
