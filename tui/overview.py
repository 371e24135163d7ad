"""All supplies at once: one row each, the worst first, one key into each and q back."""

from typing import Protocol

from drivers.base.clock import Clock
from tui.card import CardScreen
from tui.glyphs import Glyphs
from tui.ink import Line
from tui.keys import ACKNOWLEDGE, CARD, CHOOSE, UP_TO_NINE
from tui.live import LiveScreen
from tui.look import RunSource, Source
from tui.moment import Moment
from tui.panels.overview import draw_overview
from tui.run_time import now_s
from tui.sheet_screen import SheetScreen
from tui.view import View, Window


class SuppliesSource(Source, Protocol):
    """Where an overview looks."""

    def look(self, window: Window | None) -> tuple[View, ...]:
        """The pictures of all supplies; see `Source.look`."""
        ...

    def source(self, run: int) -> RunSource:
        """Where a screen about one of them looks."""
        ...


class OverviewScreen(SheetScreen):
    """See `SheetScreen`.

    Parameters
    ----------
    boot
        Name of the machine's present boot.
    asks_card
        Whether the job card comes first where a supply without one is looked at.
    """

    def __init__(
        self,
        source: SuppliesSource,
        clock: Clock,
        boot: str,
        glyphs: Glyphs,
        asks_card: bool = False,
    ) -> None:
        super().__init__(source, clock, glyphs)
        self.views: tuple[View, ...] = ()
        self._supplies = source
        self._boot = boot
        self._asks_card = asks_card
        self._asked: set[int] = set()
        self._chosen: str | None = None
        self._numbers: dict[str, int] = {}

    def is_news(self, seen: object) -> bool:
        assert isinstance(seen, tuple)
        return [view.news for view in seen] != [view.news for view in self.views]

    def take(self, seen: object) -> None:
        assert isinstance(seen, tuple)
        self.views = seen
        for view in self.views:
            # A number stays with its supply, however the rows are sorted.
            self._numbers.setdefault(view.row.facts.supply, len(self._numbers) + 1)

    def moments(self) -> list[tuple[int, Moment]]:
        """Number and moment of each supply, the worst first."""
        found = [
            (
                self._numbers[view.row.facts.supply],
                Moment(
                    view,
                    now_s(view, self.clock, self._boot),
                    self.local_time(view.row.utc_offset_s),
                    self.glyphs,
                ),
            )
            for view in self.views
        ]
        return sorted(found, key=lambda one: (one[1].urgency, one[0]))

    def draw(self, width: int, height: int) -> list[Line]:
        offset_s = self.views[0].row.utc_offset_s if self.views else 0
        return draw_overview(
            self.moments(),
            self._chosen,
            Moment(
                None,
                local_time=self.local_time(offset_s),
                glyphs=self.glyphs,
                trouble=self.trouble,
                said=self.said,
                help_is_open=self.help_is_open,
            ),
            width,
            height,
        )

    def fresh_for_s(self) -> float | None:
        found = [moment.fresh_for_s for _, moment in self.moments()]
        return min((one for one in found if one is not None), default=None)

    def press(self, key: str) -> None:
        moments = self.moments()
        supplies = [_supply(moment) for _, moment in moments]
        if not supplies:
            return
        at = supplies.index(self._chosen) if self._chosen in supplies else 0
        if key in CHOOSE:
            self._chosen = supplies[min(max(at + CHOOSE[key], 0), len(supplies) - 1)]
        elif key in UP_TO_NINE:
            meant = [moment for number, moment in moments if number == int(key)]
            if meant:
                self._open(meant[0])
            else:
                self.say(f"there is no supply number {key}")
        elif key in ACKNOWLEDGE:
            self._open(moments[at][1])
        elif key in CARD:
            source = self._source(moments[at][1])
            self.app.push_screen(CardScreen(source, self.clock, self.glyphs))

    def _open(self, moment: Moment) -> None:
        self._chosen = None
        source = self._source(moment)
        self.app.push_screen(LiveScreen(source, self.clock, self._boot, self.glyphs))
        view = moment.view
        if self._asks_card and view is not None and view.card is None:
            if view.row.run not in self._asked and not view.ended:
                self.app.push_screen(CardScreen(source, self.clock, self.glyphs))
            self._asked.add(view.row.run)

    def _source(self, moment: Moment) -> RunSource:
        assert moment.view is not None
        return self._supplies.source(moment.view.row.run)


def _supply(moment: Moment) -> str:
    return "" if moment.view is None else moment.view.row.facts.supply
