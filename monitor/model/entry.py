"""One line of a bath's ledger, and what the ledger's lines come to once corrections are taken."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """What was done."""

    MAKE_UP = "make-up"
    REPLACEMENT = "replacement"
    TOP_UP = "top-up"
    DILUTION = "dilution"
    LEADS = "leads"
    NOTE = "note"
    WITHDRAWAL = "withdrawal"


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry; "" and None for what does not belong to its kind.

    Parameters
    ----------
    bath, kind
        Whose it is, and what was done.
    at_utc_ns
        When it was done.
    litres
        Made up in all, or added.
    drawn_litres
        Taken out before a dilution.
    grams_per_litre, solution
        Strength, and "caustic" or "carbonate", of a make-up or replacement.
    supply, volts, amps_before, amps_aimed
        Of a dilution: at which supply and volts, from which amps to which.
    ohms
        Of a look at the leads: their resistance with the clips held together.
    corrects
        Number of the entry that this one takes the place of.
    entry
        Its own number; None before it is stored.
    """

    bath: str
    kind: Kind
    at_utc_ns: int
    litres: float | None = None
    drawn_litres: float | None = None
    grams_per_litre: float | None = None
    solution: str = ""
    supply: str = ""
    volts: float | None = None
    amps_before: float | None = None
    amps_aimed: float | None = None
    ohms: float | None = None
    corrects: int | None = None
    text: str = ""
    by: str = ""
    entry: int | None = None


def in_force(entries: Sequence[Entry]) -> list[Entry]:
    """The entries that count, by the time they speak of, with corrections taken.

    Examples
    --------
    >>> first = Entry("pot", Kind.TOP_UP, 5, litres=3.0, entry=1)
    >>> right = Entry("pot", Kind.TOP_UP, 5, litres=0.3, corrects=1, entry=2)
    >>> [one.litres for one in in_force([first, right])]
    [0.3]
    """
    corrected = {one.corrects for one in entries if one.corrects is not None}
    counting = [
        one for one in entries if one.entry not in corrected and one.kind is not Kind.WITHDRAWAL
    ]
    return sorted(counting, key=lambda one: (one.at_utc_ns, one.entry or 0))


@dataclass(frozen=True, slots=True)
class BathState:
    """What a bath is by its ledger; None for what nobody wrote down.

    Parameters
    ----------
    litres, grams_per_litre, solution
        Now: a dilution makes it more and weaker; a top-up gives back what evaporated.
    made_up_utc_ns
        When it was made up or replaced last.
    changes
        Times of what made another solution of it: make-up, replacement, dilutions.
    """

    litres: float | None = None
    grams_per_litre: float | None = None
    solution: str = ""
    made_up_utc_ns: int | None = None
    changes: tuple[int, ...] = ()

    def stretch(self, utc_ns: int) -> int:
        """Which solution stood there at a time: how many changes lie before it."""
        return sum(change <= utc_ns for change in self.changes)


def state_of(entries: Sequence[Entry]) -> BathState:
    """The state that the entries of one bath come to.

    Examples
    --------
    >>> made = Entry("pot", Kind.MAKE_UP, 1, litres=0.4, grams_per_litre=60.0, entry=1)
    >>> water = Entry("pot", Kind.DILUTION, 2, litres=0.1, entry=2)
    >>> state_of([made, water]).grams_per_litre
    48.0
    """
    litres: float | None = None
    grams_per_litre: float | None = None
    solution, made_up = "", None
    changes: list[int] = []
    for one in in_force(entries):
        if one.kind in (Kind.MAKE_UP, Kind.REPLACEMENT):
            litres, grams_per_litre = one.litres, one.grams_per_litre
            solution, made_up = one.solution, one.at_utc_ns
            changes.append(one.at_utc_ns)
        elif one.kind is Kind.DILUTION:
            changes.append(one.at_utc_ns)
            if litres is not None and one.litres is not None:
                kept = litres - (one.drawn_litres or 0.0)
                if grams_per_litre is not None:
                    grams_per_litre *= kept / (kept + one.litres)
                litres = kept + one.litres
    return BathState(litres, grams_per_litre, solution, made_up, tuple(changes))
