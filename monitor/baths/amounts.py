"""The entries of one bath in; the first amount that cannot be, in words, out."""

from collections.abc import Sequence

from monitor.model.entry import Entry, Kind, in_force, state_of


def impossible_amount(entries: Sequence[Entry]) -> str | None:
    """What was poured or drawn that the bath could not take; None where all of it can be.

    Examples
    --------
    >>> made = Entry("pot", Kind.MAKE_UP, 1, litres=0.4, entry=1)
    >>> impossible_amount([made, Entry("pot", Kind.DILUTION, 2, litres=0.1, entry=2)])
    >>> impossible_amount([made, Entry("pot", Kind.DILUTION, 2, litres=4.0, entry=2)])
    '4 L of water are more than pot holds (0.4 L); check the litres, or correct the make-up'
    """
    counting = in_force(entries)
    for number, one in enumerate(counting):
        if one.kind not in (Kind.DILUTION, Kind.TOP_UP):
            continue
        litres = state_of(counting[:number]).litres
        if litres is None:
            continue
        if one.drawn_litres is not None and one.drawn_litres >= litres:
            return f"{one.bath} holds {litres:.3g} L; {one.drawn_litres:g} cannot leave"
        if one.litres is not None and one.litres > litres:
            return (
                f"{one.litres:g} L of water are more than {one.bath} holds ({litres:.3g} L); "
                "check the litres, or correct the make-up"
            )
    return None


def correction_trouble(
    old: Entry, litres: float | None, grams_per_litre: float | None
) -> str | None:
    """Why an entry cannot be corrected so; None where it can."""
    if litres is not None and old.litres is None:
        return f"entry {old.entry} is a {old.kind.value} and has no litres"
    if grams_per_litre is not None and old.kind not in (Kind.MAKE_UP, Kind.REPLACEMENT):
        return f"entry {old.entry} is a {old.kind.value} and has no strength"
    return None
