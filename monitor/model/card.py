"""The job card: what is stripped in which bath, how and by whom; every answer may be missing."""

from dataclasses import dataclass
from enum import StrEnum

from monitor.model.area import area_text

STAYS_S, COMES_S = 15.0, 240.0
"""How long the operator needs to the supply: beside it, and called from elsewhere."""
STEPS = ("clean", "strip")
"""Steps of the job that every bench has; a bench may have others."""


class Way(StrEnum):
    """How the solution meets the work."""

    TANK = "tank"
    SWAB = "swab"


@dataclass(frozen=True, slots=True)
class JobCard:
    """The answers before a run; "" and None for what was not answered.

    Parameters
    ----------
    bath
        Name of the bath or the pot.
    step
        Step of the job, such as "strip".
    way
        In a tank or with a swab.
    part
        What is stripped, in the operator's words.
    area_dm2
        Area of the work.
    micrometres
        Thickness of its chromium.
    operator
        Who does it.
    reference
        The customer's own: an order, a ticket, a name.
    checked
        What the operator confirmed of the start card's checklist; see `checks_of`.
    reaction_s
        How long the operator needs to the supply.
    """

    bath: str = ""
    step: str = ""
    way: Way | None = None
    part: str = ""
    area_dm2: float | None = None
    micrometres: float | None = None
    operator: str = ""
    reference: str = ""
    checked: str = ""
    reaction_s: float | None = None

    @property
    def is_blank(self) -> bool:
        """True where nothing was answered."""
        return self == JobCard()

    @property
    def line(self) -> str:
        """The card in one line.

        Examples
        --------
        >>> JobCard("north tank", "strip", Way.TANK, "handlebar", 4.5, None, "Ada").line
        'strip handlebar in the north tank, 4.5 dm2, by Ada'
        >>> JobCard(part="bell", reference="order 112").line
        'bell, for order 112'
        >>> JobCard().line
        ''
        """
        what = " ".join(word for word in (self.step, self.part) if word)
        if self.bath:
            what += f" {'with' if self.way is Way.SWAB else 'in'} the {self.bath}"
        elif self.way is not None:
            what += " with a swab" if self.way is Way.SWAB else " in a tank"
        thick = "" if self.micrometres is None else f"{self.micrometres:g} um of chromium"
        by = f"by {self.operator}" if self.operator else ""
        whose = f"for {self.reference}" if self.reference else ""
        parts = (what.strip(), area_text(self.area_dm2), thick, by, whose)
        return ", ".join(part for part in parts if part)
