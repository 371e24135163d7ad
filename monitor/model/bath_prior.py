"""What is known of a bath before a run: how it drifts, warms, cools, and what its electrodes take.

Fourteen numbers: four means and the ten covariances between them.
"""

import math
from dataclasses import dataclass

JOULES_PER_LITRE_KELVIN = 4150.0
"""5 % caustic, Laliberte 2009; see `monitor/analysis/bath_heat.py`."""
WATTS_PER_KELVIN_AT_ONE_LITRE = 0.75
"""Loss of a bath of one litre; grows with its surface (common practice, no source)."""
LITRES_PER_AMP = 0.15
"""Of the supply's limit, for a bath whose litres nobody has told: it may be three times smaller or
many times larger, which the strength of warming takes up (common practice, no source)."""

DRIFT, STRENGTH, LOSS, INTERCEPT = range(4)
PARTS = 4
MEANS = (0.3e-4, 1.05, 0.0, 0.0)
SDS = (1.0e-4, 0.4, 0.6, 0.25)
STRENGTH_UNKNOWN, STRENGTH_SD_UNKNOWN = 1.0, 1.0
"""Where the litres are not known."""
SDS_BETWEEN_RUNS = (0.3e-4, 0.08, 0.15, 0.05)
"""By how much a bath differs from one run to the next (fitted to simulated baths)."""
PLACES = tuple((i, j) for i in range(PARTS) for j in range(i, PARTS))
"""Where the ten covariances stand in their square."""


@dataclass(frozen=True, slots=True)
class BathPrior:
    """Drift, 1/s; strength of warming; ln(loss / heat capacity), 1/s; error of E0, V a cell.

    Parameters
    ----------
    means
        Of the four.
    covariances
        The upper triangle, row by row, as in `PLACES`.

    Examples
    --------
    >>> prior = default_prior(9.0)
    >>> round(math.exp(prior.means[LOSS]) * 1e4, 2)
    0.87
    >>> prior.sd(DRIFT)
    0.0001
    """

    means: tuple[float, ...]
    covariances: tuple[float, ...]

    def sd(self, part: int) -> float:
        """Standard deviation of one of the four."""
        return math.sqrt(self.covariances[PLACES.index((part, part))])

    @property
    def is_sound(self) -> bool:
        """Whether these can be a prior: a store may be anybody's."""
        if len(self.means) != PARTS or len(self.covariances) != len(PLACES):
            return False
        if not all(math.isfinite(one) for one in (*self.means, *self.covariances)):
            return False
        at = dict(zip(PLACES, self.covariances, strict=True))
        return all(at[i, i] > 0.0 for i in range(PARTS)) and all(
            at[i, j] ** 2 <= 1.0001 * at[i, i] * at[j, j] for i, j in PLACES
        )


def default_prior(litres: float | None) -> BathPrior:
    """Of a bath of which no run is known; `litres` None where nobody has told them."""
    means, sds = list(MEANS), list(SDS)
    size = 1.0 if litres is None else litres
    means[LOSS] = math.log(
        WATTS_PER_KELVIN_AT_ONE_LITRE * size ** (2.0 / 3.0) / (JOULES_PER_LITRE_KELVIN * size)
    )
    if litres is None:
        means[STRENGTH], sds[STRENGTH] = STRENGTH_UNKNOWN, STRENGTH_SD_UNKNOWN
    return BathPrior(tuple(means), tuple(sds[i] ** 2 if i == j else 0.0 for i, j in PLACES))


def next_prior(learned: BathPrior, default: BathPrior) -> BathPrior:
    """What a run has taught, for the next one: with the doubt between two runs, capped.

    No variance is larger than the default's; rows and columns are scaled together, so that the
    correlations stay. This is a Kalman filter over runs: nothing is counted twice.

    Examples
    --------
    >>> default = default_prior(9.0)
    >>> after = next_prior(default, default)
    >>> after.sd(DRIFT) == default.sd(DRIFT)
    True
    """
    at = dict(zip(PLACES, learned.covariances, strict=True))
    for i in range(PARTS):
        at[i, i] += SDS_BETWEEN_RUNS[i] ** 2
    scales = [min(1.0, default.sd(i) / math.sqrt(at[i, i])) for i in range(PARTS)]
    return BathPrior(learned.means, tuple(at[i, j] * scales[i] * scales[j] for i, j in PLACES))
