"""The law of the first passage: when drift and noise first cross a limit."""

import math

_ROOT_2 = math.sqrt(2.0)
_ROOT_2PI = math.sqrt(2.0 * math.pi)


def normal_cdf(z: float) -> float:
    """Standard normal distribution function."""
    return 0.5 * math.erfc(-z / _ROOT_2)


def _mills(z: float) -> float:
    """Upper tail over density of the standard normal; safe from underflow."""
    if z < 20.0:
        return 0.5 * math.erfc(z / _ROOT_2) * _ROOT_2PI * math.exp(0.5 * z * z)
    inverse = 1.0 / (z * z)
    return (1.0 - inverse * (1.0 - 3.0 * inverse * (1.0 - 5.0 * inverse))) / z


def chance_by(t_s: float, distance: float, drift: float, noise: float) -> float:
    """Chance that Brownian motion with drift has first reached `distance` by the time `t_s`.

    Parameters
    ----------
    t_s
        Seconds from now; infinity is allowed.
    distance
        To the limit, in the unit of the value.
    drift
        Unit per second; may be zero or negative.
    noise
        Unit per root second, above zero.

    Examples
    --------
    >>> round(chance_by(20.0, 10.0, 0.5, 1.0), 7)
    0.5852889
    >>> round(chance_by(math.inf, 10.0, -0.05, 1.0), 6)
    0.367879

    References
    ----------
    Chhikara & Folks, The Inverse Gaussian Distribution, 1989 (from memory): the law of the first
    passage is inverse Gaussian with mean distance/drift and shape distance^2/noise^2.
    """
    if distance <= 0.0:
        return 1.0
    if t_s <= 0.0:
        return 0.0
    if t_s == math.inf:
        return chance_ever(distance, drift, noise)
    spread = noise * math.sqrt(t_s)
    near = (drift * t_s - distance) / spread
    far = (drift * t_s + distance) / spread
    # exp(2 v a / s^2) Phi(-far) = density(near) Mills(far): no factor can overflow.
    if far > -6.0:
        density = math.exp(-0.5 * near * near) / _ROOT_2PI
        reflected = density * _mills(far)
    else:
        reflected = math.exp(2.0 * drift * distance / (noise * noise)) * normal_cdf(-far)
    return min(1.0, normal_cdf(near) + reflected)


def chance_ever(distance: float, drift: float, noise: float) -> float:
    """Chance that the limit is ever reached: 1 for a drift towards it, less away from it.

    Examples
    --------
    >>> chance_ever(10.0, 0.0, 1.0)
    1.0
    """
    if distance <= 0.0 or drift >= 0.0:
        return 1.0
    return math.exp(2.0 * drift * distance / (noise * noise))
