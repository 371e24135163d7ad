"""How conductance follows concentration: published tables, and what a bath's own dilutions taught.

Conductance goes with concentration to a power n a little under 1. n begins at what the tables say
and is corrected by what the bath's own earlier dilutions did.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from monitor.base.errors import WrongUse

CAUSTIC_AT_20 = ((0.5, 24.8), (1.0, 48.6), (2.0, 93.1), (5.0, 206.0))
"""Per cent NaOH by mass and mS/cm at 20 C (CRC Handbook, Electrical Conductivity of Aqueous
Solutions)."""
CARBONATE_AT_20 = ((0.5, 7.0), (1.0, 13.1), (2.0, 23.3), (5.0, 47.0), (10.0, 74.4), (15.0, 88.6))
"""The same of Na2CO3."""
TABLES = {"caustic": CAUSTIC_AT_20, "carbonate": CARBONATE_AT_20}
EXPONENT_SD = 0.1
"""How far a bath's exponent may lie from its table's: carbonate and age bend it (common practice,
no source)."""
SEEN_SD = 0.02
"""Error of ln(amps after / amps before) of one dilution: start temperatures and parts differ."""


def ms_per_cm(per_cent: float, solution: str = "caustic") -> float:
    """Conductivity at 20 C, by straight lines through the table on logarithmic axes.

    Examples
    --------
    >>> round(ms_per_cm(5.0), 1)
    206.0

    Raises
    ------
    ValueError
        Outside of the table.
    """
    table = TABLES[solution]
    if not table[0][0] <= per_cent <= table[-1][0]:
        raise ValueError(f"{per_cent} % lies outside of the table")
    for (c_1, k_1), (c_2, k_2) in pairwise(table):
        if per_cent <= c_2:
            share = math.log(per_cent / c_1) / math.log(c_2 / c_1)
            return k_1 * math.exp(share * math.log(k_2 / k_1))
    raise AssertionError("the last row was reached")


def exponent(solution: str = "caustic") -> float:
    """n in kappa ~ c^n between 2 and 5 %, where strips are: 1 would be first order.

    >>> round(exponent(), 2), round(exponent("carbonate"), 2)
    (0.87, 0.77)
    """
    table = dict(TABLES[solution])
    return math.log(table[5.0] / table[2.0]) / math.log(5.0 / 2.0)


@dataclass(frozen=True, slots=True)
class Exponent:
    """n in conductance ~ concentration^n, its standard deviation, and how many dilutions of the
    bath itself it was learned from.
    """

    n: float
    sd: float
    dilutions: int


def learned_exponent(seen: Sequence[tuple[float, float]], solution: str = "caustic") -> Exponent:
    """The exponent after a bath's own dilutions.

    Parameters
    ----------
    seen
        Of each the ratio of concentrations (after over before, under 1) and that of conductances
        at one temperature.

    Examples
    --------
    >>> learned_exponent([]).dilutions
    0
    >>> after = learned_exponent([(0.8, 0.8 ** 0.95)])
    >>> after.n > learned_exponent([]).n
    True
    """
    n, variance, used = exponent(solution or "caustic"), EXPONENT_SD**2, 0
    for strengths, conductances in seen:
        if not 0.0 < strengths < 0.99 or not 0.0 < conductances < 1.2:
            continue
        measured = math.log(conductances) / math.log(strengths)
        noise = (SEEN_SD / math.log(strengths)) ** 2
        gain = variance / (variance + noise)
        n += gain * (measured - n)
        variance *= 1.0 - gain
        used += 1
    return Exponent(min(max(n, 0.3), 1.3), math.sqrt(variance), used)


@dataclass(frozen=True, slots=True)
class Draw:
    """What a bath draws at the usual volts.

    Parameters
    ----------
    amps, volts
        Now.
    polarisation_volts
        The fitted intercept of volts over amps.
    celsius, usual_celsius
        Now, and at the start of a usual job; None where not known.
    lead_ohms
        Of leads and contacts, which water does not change.
    """

    amps: float
    volts: float
    polarisation_volts: float
    celsius: float | None = None
    usual_celsius: float = 25.0
    lead_ohms: float = 0.0

    def siemens(self, amps: float) -> float:
        """Of the bath alone, where so many amps flow.

        Raises
        ------
        WrongUse
            Nothing is left for the bath.
        """
        ohms = (self.volts - self.polarisation_volts) / amps - self.lead_ohms
        if ohms <= 0.0:
            raise WrongUse(
                f"{amps:g} A at {self.volts:g} V leaves the bath no resistance; check volts, amps "
                "and leads"
            )
        return 1.0 / ohms

    def amps_at(self, siemens: float) -> float:
        """The amps that a bath of this conductance takes."""
        return (self.volts - self.polarisation_volts) / (1.0 / siemens + self.lead_ohms)


def promise_error(amps_promised: float, amps_measured: float) -> float:
    """By what share the amps after a dilution missed the promise; positive is too much current.

    >>> round(promise_error(7.5, 7.8), 3)
    0.04
    """
    return amps_measured / amps_promised - 1.0
