"""The charge that a part takes, by Faraday's law and by the bath's own finished runs.

Faraday's charge is a guide: the least for chromium of the stated thickness that leaves as Cr(VI).
Classes of thickness are minima, oxygen takes part of the current, deposits flake, and other
valences occur. What earlier finished runs took is the better guide; it is given with its spread.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from monitor.model.charge_need import ChargeNeed
from monitor.model.faraday import CHROMIUM_G_PER_CM3, amp_hours_to_strip

TENTH = 1.2816
"""Standard normal deviate of the 10 % and 90 % points."""
SPREAD_OF_ONE = 0.25
"""Spread of ln(efficiency) to assume from one finished run alone (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Efficiency:
    """Share of the current that stripped chromium in a bath's finished runs, hold included.

    Parameters
    ----------
    share, low, high
        Its middle, and the 10 % and 90 % points for a next run; over 0 and up to 1.
    runs
        How many finished runs it was learned from.
    """

    share: float
    low: float
    high: float
    runs: int


def learned_efficiency(runs: Sequence[tuple[float, float]]) -> Efficiency | None:
    """The efficiency that finished runs had; None where there are none.

    Parameters
    ----------
    runs
        Of each the least ampere-hours by Faraday, and those that passed. A run that took less
        than the least (its area or thickness was wrong) is left out.

    Examples
    --------
    >>> learned_efficiency([(0.107, 0.43), (0.107, 0.40), (0.2, 0.82)]).runs
    3
    """
    logs = [math.log(least / passed) for least, passed in runs if 0.0 < least <= passed]
    if not logs:
        return None
    mean = math.fsum(logs) / len(logs)
    spread = SPREAD_OF_ONE
    if len(logs) > 1:
        squares = math.fsum((log - mean) ** 2 for log in logs)
        # One more squared spread of prior weight 1 keeps two equal runs from being a certainty.
        spread = math.sqrt((squares + SPREAD_OF_ONE**2) / len(logs))
    reach = TENTH * spread * math.sqrt(1.0 + 1.0 / len(logs))
    share = math.exp(mean)
    return Efficiency(share, share * math.exp(-reach), min(share * math.exp(reach), 1.0), len(logs))


def charge_need(
    area_dm2: float,
    micrometres: float,
    efficiency: Efficiency | None = None,
    g_per_cm3: float = CHROMIUM_G_PER_CM3,
) -> ChargeNeed:
    """What a part takes.

    Examples
    --------
    Two bells of 1.6 dm2 with 0.3 um, in a bath that had 25 %:

    >>> need = charge_need(1.6, 0.3, Efficiency(0.25, 0.2, 0.3, 5))
    >>> round(need.least, 4), round(need.likely, 3)
    (0.1067, 0.427)

    References
    ----------
    Faraday's laws of electrolysis; see `amp_hours_to_strip`.
    """
    least = amp_hours_to_strip(area_dm2, micrometres, g_per_cm3)
    if efficiency is None:
        return ChargeNeed(least)
    return ChargeNeed(
        least, least / efficiency.share, least / efficiency.high, least / efficiency.low
    )
