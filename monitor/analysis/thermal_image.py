"""The thermal image of a conductor: how near it is to its heat limit, and when it gets there."""

import math


class ThermalImage:
    """The heat of one conductor, as a protection relay models it: one time constant.

        d(theta)/dt = (I^2 / (k Ib)^2 - theta) / tau

    `theta` is 1 at the heat that `k Ib` reaches in the end. Steps are solved exactly for amps that
    stand still between two samples, so that the step's length brings no error of its own.

    Parameters
    ----------
    rated_amps
        Ib, what the conductor carries for ever.
    time_constant_s
        tau: after so long at constant amps 63 % of the way is gone.
    k
        Factor on the rated amps.

    Examples
    --------
    20 A for ever and 300 s; 24 A from cold, and after 18 A for long (IEC 60255-149's equations):

    >>> lead = ThermalImage(20.0, 300.0)
    >>> round(lead.operates_in_s(24.0), 2)
    355.69
    >>> lead.theta = (18.0 / 20.0) ** 2
    >>> round(lead.operates_in_s(24.0), 2)
    107.68

    References
    ----------
    IEC 60255-149:2013, cold and hot curves (the cold one is the hot one with no load before).
    """

    __slots__ = ("_k_amps_squared", "_time_constant_s", "theta")

    def __init__(self, rated_amps: float, time_constant_s: float, k: float = 1.0) -> None:
        self._k_amps_squared = (k * rated_amps) ** 2
        self._time_constant_s = time_constant_s
        self.theta = 0.0

    def update(self, seconds: float, amps_squared: float) -> None:
        """Go on by `seconds` at this mean of the amps' square."""
        aim = amps_squared / self._k_amps_squared
        self.theta = aim + (self.theta - aim) * math.exp(-seconds / self._time_constant_s)

    def operates_in_s(self, amps: float) -> float | None:
        """Seconds until `theta` is 1 if the amps stay so; None if it never comes to that."""
        if self.theta >= 1.0:
            return 0.0
        aim = amps * amps / self._k_amps_squared
        if aim <= 1.0:
            return None
        return self._time_constant_s * math.log((aim - self.theta) / (aim - 1.0))
