"""The rule by which a trip is expected, applied to whole runs.

The same even odds and one in five as the alarm's, with its two delays.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from monitor.analysis.chain import Chain
from monitor.model.estimate import Estimate
from monitor.model.sample import Gap, Sample

RAISE_ABOVE, RETURN_BELOW = 0.5, 0.2
ON_DELAY_S, OFF_DELAY_S = 2.0, 10.0


@dataclass
class Watched:
    """What came of one run: every estimate, the times of raises, whether one still stood."""

    estimates: list[Estimate] = field(default_factory=list)
    raised_s: list[float] = field(default_factory=list)
    stands: bool = False

    @property
    def chances(self) -> list[float]:
        """The chances that were given."""
        chances = (e.forecast.chance_within_horizon for e in self.estimates)
        return [chance for chance in chances if chance is not None]

    def at(self, t_s: float) -> Estimate:
        """The last estimate not after `t_s`."""
        return [e for e in self.estimates if e.t_s <= t_s][-1]


def watch(rows: Iterable[Sample | Gap], chain: Chain) -> Watched:
    """Watch a run to its end."""
    watched = Watched()
    since_s: float | None = None
    for row in rows:
        estimate = chain.update(row)
        watched.estimates.append(estimate)
        chance = estimate.forecast.chance_within_horizon
        if watched.stands:
            turns, delay_s = chance is None or chance < RETURN_BELOW, OFF_DELAY_S
        else:
            turns, delay_s = chance is not None and chance > RAISE_ABOVE, ON_DELAY_S
        if not turns:
            since_s = None
        elif since_s is None:
            since_s = row.t_s
        elif row.t_s - since_s >= delay_s:
            watched.stands = not watched.stands
            since_s = None
            if watched.stands:
                watched.raised_s.append(row.t_s)
    return watched
