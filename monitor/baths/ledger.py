"""What the entries of the ledger allow, and what leads and contacts measured at any time."""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.model.entry import Entry, Kind, in_force, state_of

POURED = (Kind.DILUTION, Kind.TOP_UP, Kind.ADDITION)
STRENGTHS = (Kind.MAKE_UP, Kind.REPLACEMENT, Kind.TITRATION)


def impossible_amount(entries: Sequence[Entry]) -> str | None:
    """What was poured or drawn that the bath could not take; None where all of it can be.

    Parameters
    ----------
    entries
        Of one bath.

    Examples
    --------
    >>> made = Entry("pot", Kind.MAKE_UP, 1, litres=0.4, entry=1)
    >>> impossible_amount([made, Entry("pot", Kind.DILUTION, 2, litres=0.1, entry=2)])
    >>> impossible_amount([made, Entry("pot", Kind.DILUTION, 2, litres=4.0, entry=2)])
    '4 L are more than pot holds (0.4 L); check the litres, or correct the make-up'
    """
    counting = in_force(entries)
    for number, entry in enumerate(counting):
        litres = state_of(counting[:number]).litres
        if entry.kind not in POURED or litres is None:
            continue
        if entry.drawn_litres is not None and entry.drawn_litres >= litres:
            return f"{entry.bath} holds {litres:.3g} L; {entry.drawn_litres:g} cannot leave"
        if entry.litres is not None and entry.litres > litres:
            return (
                f"{entry.litres:g} L are more than {entry.bath} holds ({litres:.3g} L); "
                "check the litres, or correct the make-up"
            )
    return None


def correction_trouble(
    old: Entry, litres: float | None, grams_per_litre: float | None
) -> str | None:
    """Why an entry cannot be corrected so; None where it can."""
    if litres is not None and old.litres is None:
        return f"entry {old.entry} is a {old.kind.value} and has no litres"
    if grams_per_litre is not None and old.kind not in STRENGTHS:
        return f"entry {old.entry} is a {old.kind.value} and has no strength"
    return None


@dataclass(frozen=True, slots=True)
class Looks:
    """The resistances of the leads of every supply, measured with the clips held together.

    Parameters
    ----------
    entries
        Entries in force, oldest first; other kinds are passed over.

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
        """Those of one supply's leads."""
        return [
            entry
            for entry in self.entries
            if entry.kind is Kind.LEADS and entry.supply == supply and entry.ohms is not None
        ]

    def ohms_at(self, supply: str, utc_ns: int) -> float:
        """As last measured before a time, else as first measured; 0 where nobody measured."""
        measured = self.of(supply)
        before = [entry for entry in measured if entry.at_utc_ns <= utc_ns]
        nearest = before[-1:] or measured[:1]
        return nearest[0].ohms or 0.0 if nearest else 0.0
