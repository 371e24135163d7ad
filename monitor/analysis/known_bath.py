"""One bath as two filters see it: by its earlier runs, and by none, as a guard against them."""

import math
from collections.abc import Sequence
from typing import NamedTuple

from monitor.analysis.bath_filter import EXCHANGE, BathFilter
from monitor.model.bath_prior import (
    JOULES_PER_LITRE_KELVIN,
    LITRES_PER_AMP,
    BathPrior,
    default_prior,
)

HISTORY_WEIGHT = 0.8
"""Of the filter that goes by earlier runs, before the first value."""
LEAST_WEIGHT = 0.02
"""A filter under it is given up."""
VALUES_KEPT = 150
"""First values of a run: earlier runs may become known a little later than the run begins."""
SEEN_AGAIN_S = 60.0
"""A silence that is longer makes the level doubtful."""


class Weighed(NamedTuple):
    """A filter and the trust in it; all of them together 1."""

    weight: float
    bath: BathFilter


class _Taken(NamedTuple):
    """One value, and what flowed before it."""

    t_s: float
    watts: float
    log_amps: float
    volts: float
    white: float
    wander: float
    memory_s: float


class KnownBath:
    """Follows a bath with one or two filters, weighed by how well each foresees.

    Parameters
    ----------
    limit_amps
        Of the supply: a bath of unknown litres is guessed by it.
    litres
        None where nobody has told them.
    per_kelvin
        The bath's coefficient of conductance.
    cells
        In series.
    """

    def __init__(
        self, limit_amps: float, litres: float | None, per_kelvin: float, cells: int = 1
    ) -> None:
        self.knows_litres = litres is not None
        size = LITRES_PER_AMP * limit_amps if litres is None else litres
        self._set = (EXCHANGE / (JOULES_PER_LITRE_KELVIN * size), per_kelvin, cells)
        self.default = default_prior(litres)
        self.filters: Sequence[Weighed] = (Weighed(1.0, BathFilter(self.default, *self._set)),)
        self.has_history = False
        self._taken: list[_Taken] | None = []
        self._last_s: float | None = None
        self._bin_s: float | None = None
        self._joules = 0.0
        self._watts = 0.0

    def know(self, prior: BathPrior) -> None:
        """Take what earlier runs have taught; without effect minutes after the run has begun."""
        taken = self._taken
        if taken is None or self.has_history or not prior.is_sound:
            return
        history, default = BathFilter(prior, *self._set), BathFilter(self.default, *self._set)
        self.filters = (
            Weighed(HISTORY_WEIGHT, history),
            Weighed(1.0 - HISTORY_WEIGHT, default),
        )
        self.has_history = True
        for value in taken:
            for _, bath in self.filters:
                bath.flow(value.t_s, value.watts)
            self._weigh(value)

    def flow(self, t_s: float, watts: float) -> None:
        """Carry the warmth on to a sample."""
        last_s, self._last_s = self._last_s, t_s
        if last_s is None:
            self._watts = watts
        elif t_s - last_s > SEEN_AGAIN_S:
            watts, self._watts = 0.5 * (watts + self._watts), watts
            for _, bath in self.filters:
                bath.miss(t_s - last_s)
        else:
            self._watts = watts
        if last_s is not None:
            self._joules += watts * (t_s - last_s)
        for _, bath in self.filters:
            bath.flow(t_s, watts)

    def update(
        self,
        t_s: float,
        log_amps: float,
        volts: float,
        white: float,
        wander: float,
        memory_s: float,
    ) -> None:
        """Take a value as `BathFilter.update` does, after the samples that it is made of."""
        now_s = self._last_s if self._last_s is not None else t_s
        since_s = now_s if self._bin_s is None else now_s - self._bin_s
        watts = self._joules / since_s if since_s > 0.0 else self._watts
        self._bin_s, self._joules = now_s, 0.0
        value = _Taken(now_s, watts, log_amps, volts, white, wander, memory_s)
        if self._taken is not None:
            self._taken.append(value)
            if len(self._taken) > VALUES_KEPT:
                self._taken = None
        self._weigh(value)

    def doubt_level(self) -> None:
        """Something else may hang in the bath."""
        for _, bath in self.filters:
            bath.doubt_level()

    def _weigh(self, value: _Taken) -> None:
        filters = self.filters
        for _, bath in filters:
            bath.update(
                value.t_s, value.log_amps, value.volts, value.white, value.wander, value.memory_s
            )
        if len(filters) == 1:
            return
        best = max(bath.log_score for _, bath in filters)
        weights = [weight * math.exp(bath.log_score - best) for weight, bath in filters]
        total = sum(weights)
        kept = [
            Weighed(weight / total, one.bath)
            for weight, one in zip(weights, filters, strict=True)
            if weight >= LEAST_WEIGHT * total
        ]
        rest = sum(one.weight for one in kept)
        self.filters = tuple(Weighed(one.weight / rest, one.bath) for one in kept)

    @property
    def zero_volts(self) -> float:
        """E0 of all cells, from which its error is counted."""
        return self.filters[0].bath.zero_volts

    @property
    def values(self) -> int:
        """How many values were taken."""
        return self.filters[0].bath.bins

    @property
    def learned(self) -> BathPrior:
        """What the filter that is trusted most has learned."""
        return max(self.filters, key=lambda one: one.weight).bath.learned
