"""One line of a bath's ledger, and what the ledger's lines come to once corrections are taken."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum


class Kind(StrEnum):
    """What was done."""

    MAKE_UP = "make-up"
    REPLACEMENT = "replacement"
    TOP_UP = "top-up"
    DILUTION = "dilution"
    ADDITION = "caustic addition"
    TITRATION = "titration"
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
        Strength, and "caustic" or "carbonate", of a make-up or replacement; of a titration the
        caustic.
    supply, volts, amps_before, amps_aimed
        Of a dilution: at which supply and volts, from which amps to which.
    ohms
        Of a look at the leads: their resistance with the clips held together.
    corrects
        Number of the entry that this one takes the place of.
    carbonate_grams_per_litre
        Carbonate (as Na2CO3) that a titration measured.
    caustic_grams
        Caustic (as NaOH) of an addition; its litres are those of the solution that it came in.
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
    carbonate_grams_per_litre: float | None = None
    caustic_grams: float | None = None


def in_force(entries: Sequence[Entry]) -> list[Entry]:
    """The entries that count, by the time they speak of, with corrections taken.

    Examples
    --------
    >>> first = Entry("pot", Kind.TOP_UP, 5, litres=3.0, entry=1)
    >>> right = Entry("pot", Kind.TOP_UP, 5, litres=0.3, corrects=1, entry=2)
    >>> [one.litres for one in in_force([first, right])]
    [0.3]
    """
    corrected = {entry.corrects for entry in entries if entry.corrects is not None}
    counting = [
        entry
        for entry in entries
        if entry.entry not in corrected and entry.kind is not Kind.WITHDRAWAL
    ]
    return sorted(counting, key=lambda entry: (entry.at_utc_ns, entry.entry or 0))


@dataclass(frozen=True, slots=True)
class BathState:
    """The state of a bath by its ledger; None for what was not entered.

    Parameters
    ----------
    litres, grams_per_litre, solution
        Now: a dilution makes it more and weaker; a top-up gives back what evaporated.
    made_up_utc_ns
        When it was made up or replaced last.
    changes
        Times of what made another solution of it: make-up, replacement, dilutions, additions.
    carbonate_grams_per_litre
        As titrated, dilutions since then taken into account; None where nobody titrated it.
    titrated_utc_ns
        When its strength was titrated last; None where the strength is reckoned from the make-up.
    fresh_grams_per_litre
        Its strength at make-up.
    """

    litres: float | None = None
    grams_per_litre: float | None = None
    solution: str = ""
    made_up_utc_ns: int | None = None
    changes: tuple[int, ...] = ()
    carbonate_grams_per_litre: float | None = None
    titrated_utc_ns: int | None = None
    fresh_grams_per_litre: float | None = None

    def stretch(self, utc_ns: int) -> int:
        """Which solution stood there at a time: how many changes lie before it."""
        return sum(change <= utc_ns for change in self.changes)

    def after(self, entry: Entry) -> "BathState":
        """The state once an entry's work is done; the same for a look or a note."""
        match entry.kind:
            case Kind.MAKE_UP | Kind.REPLACEMENT:
                return BathState(
                    entry.litres,
                    entry.grams_per_litre,
                    entry.solution,
                    entry.at_utc_ns,
                    (*self.changes, entry.at_utc_ns),
                    fresh_grams_per_litre=entry.grams_per_litre,
                )
            case Kind.TITRATION:
                return self._titrated(entry)
            case Kind.DILUTION | Kind.ADDITION:
                return self._mixed(entry)
            case _:
                return self

    def _titrated(self, entry: Entry) -> "BathState":
        """What was measured is believed over what the ledger reckons."""
        strength, carbonate = entry.grams_per_litre, entry.carbonate_grams_per_litre
        if self.solution == "carbonate":
            strength, carbonate = carbonate, None
        if strength is None:
            return replace(self, carbonate_grams_per_litre=carbonate)
        return replace(
            self,
            grams_per_litre=strength,
            carbonate_grams_per_litre=carbonate,
            titrated_utc_ns=entry.at_utc_ns,
        )

    def _mixed(self, entry: Entry) -> "BathState":
        """After something was poured in; the caustic of an addition comes with it."""
        changed = replace(self, changes=(*self.changes, entry.at_utc_ns))
        added = entry.litres or 0.0
        if self.litres is None or (entry.kind is Kind.DILUTION and entry.litres is None):
            return changed
        kept = self.litres - (entry.drawn_litres or 0.0)
        whole = kept + added
        strength, carbonate = self.grams_per_litre, self.carbonate_grams_per_litre
        more = 0.0 if self.solution == "carbonate" else entry.caustic_grams or 0.0
        return replace(
            changed,
            litres=whole,
            grams_per_litre=None if strength is None else (strength * kept + more) / whole,
            carbonate_grams_per_litre=None if carbonate is None else carbonate * kept / whole,
        )


def state_of(entries: Sequence[Entry]) -> BathState:
    """The state that the entries of one bath come to.

    Examples
    --------
    >>> made = Entry("pot", Kind.MAKE_UP, 1, litres=0.4, grams_per_litre=60.0, entry=1)
    >>> water = Entry("pot", Kind.DILUTION, 2, litres=0.1, entry=2)
    >>> state_of([made, water]).grams_per_litre
    48.0
    >>> measured = Entry("pot", Kind.TITRATION, 3, grams_per_litre=40.0, entry=3)
    >>> more = Entry("pot", Kind.ADDITION, 4, caustic_grams=5.0, entry=4)
    >>> state_of([made, water, measured, more]).grams_per_litre
    50.0
    """
    state = BathState()
    for entry in in_force(entries):
        state = state.after(entry)
    return state
