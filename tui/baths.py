"""What the ledger screen shows: one page for each bath of a store."""

from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from monitor.baths.bath_view import BathView, known_baths, view_of
from monitor.store.bath_rows import BathBook
from monitor.store.job_rows import cards_and_outcomes
from monitor.store.reader import open_store
from tui.view import Window

LOOK_EVERY = 8
"""Whether anything is new is looked up with every eighth look."""
ANEW_EVERY = 120
"""A bath's page is made anew with every so many looks at the least: a run may be going on."""


@dataclass(frozen=True, slots=True)
class BathPage:
    """One bath of the ledger.

    Parameters
    ----------
    names, at
        The baths that there are, and the place of this one; -1 where there is none.
    """

    names: tuple[str, ...] = ()
    at: int = -1
    view: BathView | None = None


class BathsSource(Protocol):
    """Where the ledger's screen looks; a `Source`."""

    def look(self, window: Window | None) -> BathPage:
        """The page of the chosen bath.

        Raises
        ------
        StoreError
            The store cannot be read at present.
        """
        ...

    def close(self) -> None:
        """Give back what was opened."""
        ...

    def choose(self, bath: str) -> None:
        """Look at this bath from now on; from any thread."""
        ...


class StoredBaths:
    """Looks at the baths of a store, at one at a time.

    Parameters
    ----------
    path
        The store.
    bath
        The bath to begin with; "" for the first.
    """

    def __init__(self, path: Path, bath: str = "") -> None:
        self._path = path
        self._bath = bath
        self._page = BathPage()
        self._seen: tuple[object, ...] = ()
        self._looks = 0

    def choose(self, bath: str) -> None:
        """See `BathsSource.choose`."""
        self._bath = bath

    def look(self, window: Window | None) -> BathPage:
        """See `BathsSource.look`."""
        del window
        looks, self._looks = self._looks, self._looks + 1
        page, bath = self._page, self._bath
        is_other = bool(bath) and (page.view is None or page.view.bath != bath)
        if not is_other and looks % LOOK_EVERY and page.names:
            return page
        seen = self._stand()
        if is_other or seen != self._seen or looks % ANEW_EVERY == 0:
            self._page, self._seen = self._make(bath), seen
        return self._page

    def close(self) -> None:
        """Nothing stays open."""

    def _stand(self) -> tuple[object, ...]:
        """What changes with every entry, every job that ends, every card and every outcome."""
        cards, outcomes = cards_and_outcomes(self._path)
        with open_store(self._path) as store:
            ended = sum(row.ended_utc_ns is not None for row in store.runs())
        return ended, len(BathBook(self._path).entries()), cards, outcomes

    def _make(self, bath: str) -> BathPage:
        names = known_baths(self._path)
        if not names:
            return BathPage()
        name = bath if bath in names else names[0]
        return BathPage(tuple(names), names.index(name), view_of(self._path, name))
