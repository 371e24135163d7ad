"""The textbook's EWMA chart: has the weighted moving average left its limits?

Nothing in the product uses it; it is what somebody would take instead to see the end of a strip.
"""


class EwmaChart:
    """The exponentially weighted moving average with steady limits.

        E = weight x + (1 - weight) E,   limits target +- L sd sqrt(weight / (2 - weight))

    Parameters
    ----------
    target, sd
        Mean and standard deviation of the values while nothing has moved.
    weight, limit
        Weight of the newest value, and L.

    Examples
    --------
    >>> chart = EwmaChart(50.0, 2.0539, 0.3, 3.0)
    >>> chart.update(52.0), round(chart.average, 2), round(chart.upper, 4)
    (0, 50.6, 52.5884)

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4; Lucas & Saccucci, Technometrics 32
    (1990).
    """

    def __init__(self, target: float, sd: float, weight: float = 0.3, limit: float = 3.0) -> None:
        self._weight = weight
        half = limit * sd * (weight / (2.0 - weight)) ** 0.5
        self.upper = target + half
        self.lower = target - half
        self.average = target

    def update(self, value: float) -> int:
        """Take one value: 1 or -1 where the average is over or under its limits, else 0."""
        self.average += self._weight * (value - self.average)
        if self.average > self.upper:
            return 1
        return -1 if self.average < self.lower else 0
