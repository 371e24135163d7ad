"""The cumulative sum (CUSUM): has the mean of standardised deviations moved, and since when?"""


class Cusum:
    """The tabular cumulative sum: two sums that drift back to zero, one for each way.

        S_hi = max(0, S_hi + z - k),   S_lo = max(0, S_lo - z - k)

    A sum over `h` tells a move of the mean of about 2k standard deviations. Among all rules that
    wait as long for a false alarm it tells that move soonest in the worst case, but only for
    independent values and a move of known size; values that follow each other make false alarms
    far more frequent than the tables say.

    Parameters
    ----------
    k
        Half of the move that is to be told, standard deviations.
    h
        Where a sum tells it.

    Examples
    --------
    >>> cusum = Cusum(0.5, 5.0)
    >>> [cusum.update(z) for z in (0.1, -0.2, 2.0, 2.0, 2.0, 2.0)]
    [0, 0, 0, 0, 0, 1]
    >>> cusum.high, cusum.rising_for
    (6.0, 4)

    References
    ----------
    Page, Biometrika 41 (1954) 100-115; NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3.
    Moustakides, Ann. Statist. 14 (1986) 1379-1387, for what it is best at.
    """

    __slots__ = ("_h", "_k", "falling_for", "high", "low", "rising_for")

    def __init__(self, k: float, h: float) -> None:
        self._k = k
        self._h = h
        self.high = self.low = 0.0
        self.rising_for = self.falling_for = 0

    def restart(self) -> None:
        """Begin both sums anew."""
        self.high = self.low = 0.0
        self.rising_for = self.falling_for = 0

    def update(self, z: float) -> int:
        """Take one deviation: 1 where the mean has moved up, -1 down, 0 where neither."""
        self.high = max(0.0, self.high + z - self._k)
        self.low = max(0.0, self.low - z - self._k)
        self.rising_for = self.rising_for + 1 if self.high > 0.0 else 0
        self.falling_for = self.falling_for + 1 if self.low > 0.0 else 0
        if self.high > self._h:
            return 1
        return -1 if self.low > self._h else 0
