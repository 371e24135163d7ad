"""Level, slope and slow wander of noisy values at uneven times, with covariances."""

import math


class Trend:
    """Local linear trend with a slow stationary wander, in a Kalman filter of plain scalars.

    The value observed is `level + wander + white noise`. The level moves with the slope, both
    take random walks; the wander is an Ornstein-Uhlenbeck process (an AR(1) at true time steps),
    so that noise with a memory is not taken for a trend. Without wander this is the textbook
    local linear trend. Innovations are clipped before they move the state.

    Parameters
    ----------
    slope_sd
        Standard deviation of the slope before anything is known, 1/s.
    slope_walk
        Variance that the slope gains per second, 1/s3.
    level_walk
        Variance that the level gains per second, 1/s.
    clip
        Innovations count for at most this many standard deviations.

    Examples
    --------
    A noise-free ramp 18 + 0.02 t ends at level 19.18 and slope 0.02:

    >>> trend = Trend(slope_sd=1e3, clip=1e9)
    >>> trend.set_noise(1e-10, 0.0, 1.0)
    >>> for t in range(60):
    ...     surprise = trend.update(float(t), 18.0 + 0.02 * t)
    >>> round(trend.level, 4), round(trend.slope, 6)
    (19.18, 0.02)

    References
    ----------
    Durbin & Koopman, Time Series Analysis by State Space Methods, 2nd ed. 2012, ch. 3.2 and 4.3.
    Clipped innovations: Masreliez & Martin, IEEE Trans. Autom. Control 22 (1977) 361-371 (from
    memory).
    """

    __slots__ = (
        "_clip",
        "_level_walk",
        "_memory_s",
        "_slope_sd",
        "_slope_walk",
        "_t_s",
        "_wander",
        "_white",
        "level",
        "level_slope",
        "level_variance",
        "level_wander",
        "slope",
        "slope_variance",
        "slope_wander",
        "wander",
        "wander_variance",
    )

    def __init__(
        self,
        slope_sd: float,
        slope_walk: float = 0.0,
        level_walk: float = 0.0,
        clip: float = 3.0,
    ) -> None:
        self._slope_sd = slope_sd
        self._slope_walk = slope_walk
        self._level_walk = level_walk
        self._clip = clip
        self._white = 1.0
        self._wander = 0.0
        self._memory_s = 1.0
        self._t_s: float | None = None
        self.level = 0.0
        self.slope = 0.0
        self.wander = 0.0
        self.level_variance = 0.0
        self.slope_variance = slope_sd * slope_sd
        self.wander_variance = 0.0
        self.level_slope = 0.0
        self.level_wander = 0.0
        self.slope_wander = 0.0

    @property
    def is_started(self) -> bool:
        """True once there is a level."""
        return self._t_s is not None

    def set_noise(self, white: float, wander: float, memory_s: float) -> None:
        """Variances of the white noise and of the wander, and the wander's memory in seconds."""
        self._white = white
        self._wander = wander
        self._memory_s = memory_s

    def restart(self, keep_slope: float = 0.0) -> None:
        """Forget the level, and of the slope all but the share `keep_slope`, 0 to 1.

        The slope goes towards nothing and its variance towards the one at the start, as those of
        an AR(1) with that correlation do.
        """
        self._t_s = None
        self.level_slope = self.level_wander = self.slope_wander = 0.0
        kept = keep_slope * keep_slope
        self.slope *= keep_slope
        self.slope_variance = (
            kept * self.slope_variance + (1.0 - kept) * self._slope_sd * self._slope_sd
        )

    def doubt_slope(self, variance: float) -> None:
        """Add to the slope's variance: something has changed that the trend did not foresee."""
        self.slope_variance += variance

    def doubt_level(self, variance: float) -> None:
        """Add to the level's variance: nobody saw what it did for a while."""
        self.level_variance += variance

    def update(self, t_s: float, value: float) -> float:
        """Take one value; return its surprise: the innovation in standard deviations, unclipped."""
        if self._t_s is None:
            self._t_s = t_s
            self.level, self.wander = value, 0.0
            self.wander_variance = self._wander
            self.level_variance = self._white + self._wander
            self.level_wander = -self._wander
            return 0.0
        step = t_s - self._t_s
        self._t_s = t_s
        keep = math.exp(-step / self._memory_s)
        p01, p11 = self.level_slope, self.slope_variance
        p02, p12, p22 = self.level_wander, self.slope_wander, self.wander_variance
        walk = self._slope_walk * step
        self.level += self.slope * step
        self.wander *= keep
        p00 = (
            self.level_variance
            + step * (2.0 * p01 + step * p11)
            + step * (walk * step / 3.0 + self._level_walk)
        )
        p02 = keep * (p02 + step * p12)
        p12 *= keep
        p01 += step * (p11 + 0.5 * walk)
        p11 += walk
        p22 = keep * keep * p22 + (1.0 - keep * keep) * self._wander

        to_level, to_slope, to_wander = p00 + p02, p01 + p12, p02 + p22
        variance = to_level + to_wander + self._white
        innovation = value - self.level - self.wander
        sd = math.sqrt(variance)
        most = self._clip * sd
        clipped = max(-most, min(innovation, most))
        k0, k1, k2 = to_level / variance, to_slope / variance, to_wander / variance
        self.level += k0 * clipped
        self.slope += k1 * clipped
        self.wander += k2 * clipped
        self.level_variance = p00 - k0 * to_level
        self.level_slope = p01 - k0 * to_slope
        self.level_wander = p02 - k0 * to_wander
        self.slope_variance = p11 - k1 * to_slope
        self.slope_wander = p12 - k1 * to_wander
        self.wander_variance = p22 - k2 * to_wander
        return innovation / sd
