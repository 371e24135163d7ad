"""Concentration in, conductivity out: published tables, and the exponent that they bend by."""

import math
from itertools import pairwise

CAUSTIC_AT_20 = ((0.5, 24.8), (1.0, 48.6), (2.0, 93.1), (5.0, 206.0))
"""Per cent NaOH by mass and mS/cm at 20 C (CRC Handbook, Electrical Conductivity of Aqueous
Solutions)."""
CARBONATE_AT_20 = ((0.5, 7.0), (1.0, 13.1), (2.0, 23.3), (5.0, 47.0), (10.0, 74.4), (15.0, 88.6))
"""The same of Na2CO3."""
TABLES = {"caustic": CAUSTIC_AT_20, "carbonate": CARBONATE_AT_20}


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
