"""How a strip turned out, as the operator found it at the rinse; what was not looked at is None."""

from dataclasses import dataclass
from enum import StrEnum


class Gone(StrEnum):
    """Whether the chromium is gone everywhere; bare nickel is yellower (common practice, no
    source)."""

    YES = "yes"
    PATCHES = "patches"
    NO = "no"


GONE_WORDS = {
    Gone.YES: "chromium gone",
    Gone.PATCHES: "chromium left in patches",
    Gone.NO: "chromium left",
}


@dataclass(frozen=True, slots=True)
class Outcome:
    """What was seen.

    Parameters
    ----------
    gone
        Whether the chromium is gone. This alone teaches the charge that a strip takes.
    film_holds
        Whether the water film stayed whole after the rinse. ASTM F22 finds films that repel water:
        one that breaks asks for cleaning; a greasy part fails, a passive chromium surface may pass.
    by
        Who looked.
    """

    gone: Gone | None = None
    film_holds: bool | None = None
    by: str = ""

    @property
    def line(self) -> str:
        """In words.

        Examples
        --------
        >>> Outcome(Gone.YES, False).line, Outcome(film_holds=True).line, Outcome().line
        ('chromium gone, water film broken', 'water film whole', '')
        """
        words = [] if self.gone is None else [GONE_WORDS[self.gone]]
        if self.film_holds is not None:
            words.append(f"water film {'whole' if self.film_holds else 'broken'}")
        return ", ".join(words)
