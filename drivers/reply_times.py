"""How long the replies of one supply take, seconds."""

from collections import deque

KEPT = 500
TIMEOUT_OVER_P99 = 3.0
_LEAST_TIMEOUT_S = 0.05


class ReplyTimes:
    """The newest reply times of one supply, seconds.

    Examples
    --------
    >>> times = ReplyTimes()
    >>> for _ in range(99):
    ...     times.add(1.3)
    >>> times.add(1.4)
    >>> times.median_s, times.p99_s
    (1.3, 1.4)
    >>> times.words(poll_s=1.0)
    'replies take 1300 ms (99 of 100 at most 1400 ms): the supply allows 1 reading per 1.4 s'
    """

    def __init__(self) -> None:
        self._times: deque[float] = deque(maxlen=KEPT)

    def __len__(self) -> int:
        return len(self._times)

    def add(self, taken_s: float) -> None:
        """Take the time of one round of questions."""
        self._times.append(taken_s)

    @property
    def median_s(self) -> float | None:
        """Half of the replies took no longer; None where there are none."""
        return self._share(0.5)

    @property
    def p99_s(self) -> float | None:
        """99 of 100 replies took no longer; None where there are none."""
        return self._share(0.99)

    @property
    def proposed_timeout_s(self) -> float | None:
        """A time-out that suits this supply: three times the slow replies."""
        slow_s = self.p99_s
        return None if slow_s is None else max(TIMEOUT_OVER_P99 * slow_s, _LEAST_TIMEOUT_S)

    def words(self, poll_s: float | None = None) -> str:
        """The pace for people; says what the supply allows where it is slower than the polls."""
        median_s, slow_s = self.median_s, self.p99_s
        if median_s is None or slow_s is None:
            return "no replies yet"
        pace = f"replies take {_ms(median_s)} (99 of 100 at most {_ms(slow_s)})"
        if poll_s is None or slow_s <= poll_s:
            return pace
        return f"{pace}: the supply allows 1 reading per {slow_s:.2g} s"

    def _share(self, share: float) -> float | None:
        if not self._times:
            return None
        ordered = sorted(self._times)
        return ordered[min(int(share * len(ordered)), len(ordered) - 1)]


def _ms(seconds: float) -> str:
    """With a digit behind the point where there is but one before it."""
    if seconds < 0.0001:
        return "less than 0.1 ms"
    return f"{1e3 * seconds:.{0 if seconds >= 0.01 else 1}f} ms"
