"""Looks at leads in, oldest first; what leads and contacts of a supply took at any time out."""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.model.entry import Entry, Kind


@dataclass(frozen=True, slots=True)
class Looks:
    """The looks at the leads of every supply, with the clips held together.

    Parameters
    ----------
    entries
        Entries in force; those of other kinds are passed over.

    Examples
    --------
    >>> first = Entry("pot", Kind.LEADS, 10, supply="bench-1", ohms=0.017)
    >>> later = Entry("pot", Kind.LEADS, 90, supply="bench-1", ohms=0.021)
    >>> looks = Looks((first, later))
    >>> looks.ohms_at("bench-1", 50), looks.ohms_at("bench-1", 5), looks.ohms_at("bench-2", 50)
    (0.017, 0.017, 0.0)
    """

    entries: Sequence[Entry]

    def of(self, supply: str) -> list[Entry]:
        """The looks at one supply's leads, oldest first."""
        return [
            one
            for one in self.entries
            if one.kind is Kind.LEADS and one.supply == supply and one.ohms is not None
        ]

    def ohms_at(self, supply: str, utc_ns: int) -> float:
        """As they were found last before a time, else at the first look; 0 where nobody looked."""
        found = self.of(supply)
        before = [one for one in found if one.at_utc_ns <= utc_ns]
        nearest = before[-1:] or found[:1]
        return nearest[0].ohms or 0.0 if nearest else 0.0
