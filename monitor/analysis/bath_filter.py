"""Amps at given volts in; how the bath drifts, warms and cools, with doubts, out.

At constant volts and without loss, warming makes ln(conductance) a straight line: the heat V I
grows with the conductance, and the conductance with the heat. A line through the samples is then
near the best, once it has its slope. What the physics adds is the slope before the samples tell it,
the slope at other volts (it goes with V (V - E0)), pauses, and the far future.
"""

import math

from monitor.model.bath_prior import DRIFT, INTERCEPT, LOSS, PARTS, PLACES, STRENGTH, BathPrior

CELL_VOLTS = 1.8
"""E0 of one cell, from which its error is counted."""
EXCHANGE = 0.9
"""Share of the electrical power that warms the bath; the rest leaves with gas and chromate."""
DRIFT_WALK = 5e-13
"""Variance that the drift gains per second, 1/s3."""
FIRST_LEVEL_SD = 2.0
CLIP_SD = 3.0
LOST_SD, LOST_BINS = 3.5, 3
LOST_LEVEL_SD, LOST_DRIFT_SD = 0.1, 0.35e-4
"""What three values in a row past `LOST_SD` on one side add to the doubt."""
LEAN_KEEP, LEAN_MOST, LEAN_DRIFT_SD = 0.93, 0.75, 8e-5
"""What a running mean of the surprises past `LEAN_MOST` adds."""
GAP_LEVEL_SD, GAP_S = 0.01, 60.0
LEAST_WARMTH = -0.5
"""Of 1 + a theta: no bath cools so far."""
B, D, S, L, E, W = range(6)
REST_DRIFT = 0.1
"""Share of the drift that goes on in a rest: water is lost, nothing loads (common practice, no
source)."""
_OF_PRIOR = {DRIFT: D, STRENGTH: S, LOSS: L, INTERCEPT: E}
SIZE = 6


class BathFilter:
    """An extended Kalman filter of six states: a bath under one supply.

    ::

        y = ln I - ln(V - E0)
        y = b + s ln(1 + a theta) - e / (V - E0) + w + white
        d(theta)/dt = c V I - exp(l) theta,   c = 0.9 / (heat capacity),   theta = 0 at the start
        db/dt = d, a random walk;   w an AR(1) of the trend's own `Noise`

    `theta` is no state: each sample carries it on, together with `G = d(theta)/dl`,
    `dG/dt = -exp(l) (G + theta)`. A change of the volts restarts nothing: `e` carries the doubt,
    and learns.

    Parameters
    ----------
    prior
        Of drift, strength, loss and intercept.
    kelvin_per_joule
        `c`.
    per_kelvin
        `a`, the bath's coefficient of conductance.
    cells
        In series.

    Examples
    --------
    5 A at 7 V into 9 litres without any noise, 10 minutes long: it warms by half a kelvin.

    >>> from monitor.model.bath_prior import default_prior
    >>> bath = BathFilter(default_prior(9.0), EXCHANGE / (4150.0 * 9.0), 0.0175)
    >>> for second in range(601):
    ...     bath.flow(float(second), 35.0)
    ...     if second % 2:
    ...         surprise = bath.update(float(second), math.log(5.0), 7.0, 1e-6, 1e-6, 30.0)
    >>> round(bath.theta, 2)
    0.49

    References
    ----------
    Anderson & Moore, Optimal Filtering, 1979, ch. 8 (from memory). Clipped innovations: Masreliez &
    Martin, IEEE Trans. Autom. Control 22 (1977) 361 (from memory).
    """

    __slots__ = (
        "_bin_s",
        "_flow_s",
        "_keep_loss",
        "_lean",
        "_lost_bins",
        "_lost_side",
        "bins",
        "covariance",
        "d_theta_d_loss",
        "kelvin_per_joule",
        "log_score",
        "mean",
        "per_kelvin",
        "theta",
        "zero_volts",
    )

    def __init__(
        self, prior: BathPrior, kelvin_per_joule: float, per_kelvin: float, cells: int = 1
    ) -> None:
        self.kelvin_per_joule = kelvin_per_joule
        self.per_kelvin = per_kelvin
        self.zero_volts = CELL_VOLTS * cells
        self.theta = self.d_theta_d_loss = 0.0
        self.log_score = 0.0
        """Logarithm of how well the last value was foreseen, its square capped; 0 before any."""
        self.bins = 0
        self.mean = [0.0] * SIZE
        self.covariance = [[0.0] * SIZE for _ in range(SIZE)]
        scale = [1.0, 1.0, 1.0, float(cells)]
        for part, state in _OF_PRIOR.items():
            self.mean[state] = prior.means[part] * scale[part]
        for (i, j), value in zip(PLACES, prior.covariances, strict=True):
            row, column = _OF_PRIOR[i], _OF_PRIOR[j]
            value *= scale[i] * scale[j]
            self.covariance[row][column] = self.covariance[column][row] = value
        self.covariance[B][B] = FIRST_LEVEL_SD**2
        self._bin_s: float | None = None
        self._flow_s: float | None = None
        self._keep_loss = math.exp(self.mean[L])
        self._lost_bins = self._lost_side = 0
        self._lean = 0.0

    def flow(self, t_s: float, watts: float) -> None:
        """Carry the warmth on to a sample: `watts` flowed since the last one."""
        last_s, self._flow_s = self._flow_s, t_s
        if last_s is None:
            return
        step = t_s - last_s
        loss, theta = self._keep_loss, self.theta
        if loss * step < 0.02:
            self.d_theta_d_loss -= step * loss * (self.d_theta_d_loss + theta)
            self.theta = theta + step * (self.kelvin_per_joule * watts - loss * theta)
            return
        keep = math.exp(-loss * step)
        rest = self.kelvin_per_joule * watts / loss
        self.d_theta_d_loss = keep * (self.d_theta_d_loss - loss * step * (theta - rest)) - rest * (
            1.0 - keep
        )
        self.theta = rest + (theta - rest) * keep

    def paused(self, seconds: float) -> "BathFilter":
        """A copy of it as it will be after so long without current."""
        other = object.__new__(BathFilter)
        for name in self.__slots__:
            setattr(other, name, getattr(self, name))
        other.mean = list(self.mean)
        other.covariance = [list(row) for row in self.covariance]
        other.flow((self._flow_s or 0.0) + seconds, 0.0)
        if seconds > 0.0:
            other._predict(REST_DRIFT * seconds, self.covariance[W][W], seconds)
        return other

    def miss(self, seconds: float) -> None:
        """Nobody saw the bath for so long."""
        self.covariance[B][B] += (GAP_LEVEL_SD * min(1.0, seconds / GAP_S)) ** 2

    def doubt_level(self) -> None:
        """Something else may hang in the bath, or it is seen another way."""
        self.covariance[B][B] += LOST_LEVEL_SD**2

    def update(
        self,
        t_s: float,
        log_amps: float,
        volts: float,
        white: float,
        wander: float,
        memory_s: float,
    ) -> float:
        """Take the mean of some seconds; its surprise in standard deviations, unclipped.

        Parameters
        ----------
        t_s, log_amps, volts
            Middle of the seconds, mean of ln(amps), mean of the volts, well above E0.
        white, wander, memory_s
            Variances of the noise of such a mean, and the wander's memory.
        """
        mean, p = self.mean, self.covariance
        step = 0.0 if self._bin_s is None else t_s - self._bin_s
        if self._bin_s is None:
            p[W][W] = wander
        self._bin_s = t_s
        self.bins += 1
        self._predict(step, wander, memory_s)
        above = volts - self.zero_volts
        warmth = max(1.0 + self.per_kelvin * self.theta, LEAST_WARMTH)
        lead = self.per_kelvin * self.d_theta_d_loss / warmth
        row_s, row_l, row_e = math.log(warmth), mean[S] * lead, -1.0 / above
        expected = mean[B] + mean[S] * row_s + mean[E] * row_e + mean[W]
        across = [one[B] + row_s * one[S] + row_l * one[L] + row_e * one[E] + one[W] for one in p]
        variance = (
            across[B] + row_s * across[S] + row_l * across[L] + row_e * across[E] + across[W]
        ) + white
        sd = math.sqrt(variance)
        innovation = log_amps - math.log(above) - expected
        surprise = innovation / sd
        self.log_score = -0.5 * min(surprise * surprise, 9.0) - math.log(sd)
        if surprise > CLIP_SD and self.bins > 1:
            innovation = CLIP_SD * sd
        elif surprise < -CLIP_SD and self.bins > 1:
            innovation = -CLIP_SD * sd
        loss_before = mean[L]
        share = innovation / variance
        for i in range(SIZE):
            mean[i] += across[i] * share
            gain = across[i] / variance
            row = p[i]
            for j in range(i, SIZE):
                row[j] = p[j][i] = row[j] - gain * across[j]
        self.theta += self.d_theta_d_loss * (mean[L] - loss_before)
        self._keep_loss = math.exp(mean[L])
        if self.bins > 1:
            self._doubt(surprise)
        return surprise

    def _predict(self, step: float, wander: float, memory_s: float) -> None:
        mean, p = self.mean, self.covariance
        keep = math.exp(-step / memory_s)
        mean[B] += step * mean[D]
        mean[W] *= keep
        walk = DRIFT_WALK * step
        level, drift, wandering = p[B], p[D], p[W]
        level[B] += step * (2.0 * level[D] + step * drift[D]) + walk * step * step / 3.0
        for j in (D, S, L, E, W):
            level[j] += step * drift[j]
        level[D] += 0.5 * walk * step
        drift[D] += walk
        for j in (D, S, L, E, W):
            p[j][B] = level[j]
        for j in range(SIZE):
            wandering[j] *= keep
            p[j][W] = wandering[j]
        wandering[W] = wandering[W] * keep + (1.0 - keep * keep) * wander

    def _doubt(self, surprise: float) -> None:
        side = 1 if surprise > LOST_SD else -1 if surprise < -LOST_SD else 0
        self._lost_bins = 0 if not side else self._lost_bins + 1 if side == self._lost_side else 1
        self._lost_side = side
        p = self.covariance
        if self._lost_bins >= LOST_BINS:
            p[B][B] += LOST_LEVEL_SD**2
            p[D][D] += LOST_DRIFT_SD**2
            self._lost_bins = 0
        clipped = max(-CLIP_SD, min(surprise, CLIP_SD))
        self._lean = LEAN_KEEP * self._lean + (1.0 - LEAN_KEEP) * clipped
        if not -LEAN_MOST <= self._lean <= LEAN_MOST:
            p[D][D] += LEAN_DRIFT_SD**2
            self._lean = 0.0

    @property
    def learned(self) -> BathPrior:
        """What is known now of drift, strength, loss and intercept."""
        cells = self.zero_volts / CELL_VOLTS
        scale = [1.0, 1.0, 1.0, 1.0 / cells]
        means = tuple(self.mean[_OF_PRIOR[i]] * scale[i] for i in range(PARTS))
        covariances = tuple(
            self.covariance[_OF_PRIOR[i]][_OF_PRIOR[j]] * scale[i] * scale[j] for i, j in PLACES
        )
        return BathPrior(means, covariances)
