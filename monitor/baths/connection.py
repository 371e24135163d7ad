"""The resistance of leads and clips in ohms: what copper explains, and what contacts add."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from monitor.base.errors import WrongUse

CLEAN_WHEN_GROWN = 1.5
"""Contacts that have grown by half are to be cleaned (common practice, no source)."""
CLEAN_AT_VOLTS = 0.25
"""And those that take so much at the usual amps, however they were at first (the same)."""


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line through volts over amps: `volts = at_no_amps + ohms * amps`."""

    ohms: float
    at_no_amps: float


def line_through(points: Sequence[tuple[float, float]]) -> Line:
    """The series resistance that volt steps or a soft start show; volts and amps of each moment.

    With the clips held together it is that of leads and contacts, and the volts at no amps are 0;
    with a bath between, the bath's is in it and the volts at no amps are its polarisation.

    Examples
    --------
    >>> line = line_through([(0.2, 4.0), (0.3, 6.0), (0.5, 10.0)])
    >>> round(line.ohms, 3), abs(round(line.at_no_amps, 3))
    (0.05, 0.0)

    Raises
    ------
    WrongUse
        Fewer than three moments, or all at nearly the same amps.

    References
    ----------
    Ordinary least squares.
    """
    count = len(points)
    if count < 3:
        raise WrongUse("the resistance needs three or more readings at different amps")
    mean_amps = math.fsum(amps for _, amps in points) / count
    mean_volts = math.fsum(volts for volts, _ in points) / count
    down = math.fsum((amps - mean_amps) ** 2 for _, amps in points)
    if down < count * (0.05 * abs(mean_amps)) ** 2 or down == 0.0:
        raise WrongUse("all readings are at nearly the same amps; turn the volts while it records")
    ohms = math.fsum((amps - mean_amps) * (volts - mean_volts) for volts, amps in points) / down
    at_no_amps = mean_volts - ohms * mean_amps
    return Line(ohms, at_no_amps)


@dataclass(frozen=True, slots=True)
class Contacts:
    """Leads and contacts of one supply as they were found last.

    Parameters
    ----------
    ohms, copper_ohms, contact_ohms
        All together, what gauge and length explain (None where they are not known), and the rest.
    grown
        Contact now over contact at the first look; None with a single look.
    looks
        What the contacts took at each look, oldest first.
    """

    ohms: float
    copper_ohms: float | None
    contact_ohms: float
    grown: float | None
    looks: tuple[float, ...]

    def volts_lost(self, amps: float) -> float:
        """Volts that leads and contacts take at so many amps."""
        return self.ohms * amps

    def watts_lost(self, amps: float) -> float:
        """Heat that they make."""
        return self.ohms * amps * amps

    def wants_cleaning(self, amps: float) -> bool:
        """Whether the contacts have grown, or take much at these amps."""
        has_grown = self.grown is not None and self.grown >= CLEAN_WHEN_GROWN
        return has_grown or self.contact_ohms * amps >= CLEAN_AT_VOLTS


def contacts_of(looks: Sequence[float], copper_ohms: float | None) -> Contacts:
    """What looks at the leads, in order, say; ohms with the clips held together.

    `copper_ohms` is what gauge and length explain of them; None where those are not known.

    Examples
    --------
    Four metres of gauge 10 (0.0131 ohm, ASTM B258), first with 5 and now with 9 milliohms on top:

    >>> from monitor.model.leads import Leads
    >>> now = contacts_of([0.0181, 0.0221], Leads(10, 4.0).ohms())
    >>> round(now.contact_ohms, 4), round(now.grown, 1), now.wants_cleaning(10.0)
    (0.009, 1.8, True)

    Raises
    ------
    WrongUse
        There is no look.
    """
    if not looks:
        raise WrongUse("the leads have not been measured yet; see `bathvigil bath leads --help`")
    rests = tuple(max(ohms - (copper_ohms or 0.0), 0.0) for ohms in looks)
    grown = rests[-1] / rests[0] if len(rests) > 1 and rests[0] > 1e-5 else None
    return Contacts(looks[-1], copper_ohms, rests[-1], grown, rests)
