"""What to do about a bath, as a value: the deed, its reason, and every amount that goes with it."""

from dataclasses import dataclass
from enum import StrEnum


class Remedy(StrEnum):
    """The deed."""

    NOTHING = "nothing"
    COOL = "let it cool"
    DILUTE = "dilute"
    STRENGTHEN = "add caustic"
    FIND_OUT = "find out"
    REPLACE = "replace"


class Reason(StrEnum):
    """Why that."""

    FAR_FROM_LIMIT = "far from the limit"
    DRAWS_NO_MORE = "draws no more than it should"
    IS_WARM = "warming explains it"
    CONDUCTS_MORE = "conducts more than it should"
    WATER_WOULD_WEAKEN = "water would make it too weak"
    LEDGER_SAYS_WEAK = "too weak by the ledger, not titrated"
    WEAK_YET_DRAWS_MORE = "titrated as too weak, yet draws more"
    CONDUCTS_LESS = "conducts less than the ledger says"
    TITRATED_WEAK = "titrated as too weak"
    MUCH_CARBONATE = "titrated as too weak, with much carbonate"


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do about a bath.

    Parameters
    ----------
    water_litres, low_litres, high_litres
        Distilled water to add, and the range that the uncertain dilution law leaves.
    drawn_litres
        To take out first, where the tank has no room.
    caustic_grams
        To add.
    grams_per_litre, grams_after, least_grams_per_litre
        Strength now by the ledger, strength after the deed, and the least that strips well; None
        where the ledger has no strength.
    carbonate_grams_per_litre
        As titrated; None where nobody did.
    excess
        Share by which the solution conducts more than it should, at one temperature.
    amps_cool, usual_celsius
        What it would draw at the usual temperature without any water; None where not known.
    is_warm
        Whether it is to cool before anything is measured or poured.
    has_known_room
        Whether the room in the vessel was taken into account.
    aims_at_fresh
        Whether it is held against what the usual job drew in the fresh bath.
    is_swab
        Whether the work is done with a swab, whose sleeve is flushed too.
    """

    remedy: Remedy
    reason: Reason
    water_litres: float = 0.0
    low_litres: float = 0.0
    high_litres: float = 0.0
    drawn_litres: float = 0.0
    caustic_grams: float = 0.0
    grams_per_litre: float | None = None
    grams_after: float | None = None
    least_grams_per_litre: float | None = None
    carbonate_grams_per_litre: float | None = None
    excess: float | None = None
    amps_cool: float | None = None
    usual_celsius: float | None = None
    is_warm: bool = False
    has_known_room: bool = False
    aims_at_fresh: bool = False
    is_swab: bool = False
