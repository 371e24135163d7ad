"""How long a silent unit is left alone, so that the others on its line keep their pace."""

from drivers.base.clock import Clock
from drivers.errors import NoAnswer
from drivers.link.shared_link import SharedLink

SILENCES_BEFORE_REST = 2
LONGEST_REST_S = 10.0
MOST_RESTED = 20
"""A silent unit takes at most one part in `MOST_RESTED` of the line's time."""
PATIENCE_OVER_SLOWEST = 3.0
LEAST_PATIENCE_S = 0.03


class Peace:
    """Keeps count of one unit's silences.

    Parameters
    ----------
    line
        Only where others use it, too, is anybody left alone.
    """

    def __init__(self, line: SharedLink, clock: Clock, timeout_s: float, who: str) -> None:
        self.line = line
        self.clock = clock
        self.timeout_s = timeout_s
        self.who = who
        self.silences = 0
        self._slowest_s: float | None = None
        self._until_ns = 0

    @property
    def patience_s(self) -> float:
        """How long to wait for its reply: less where it was silent and others wait behind it."""
        if not self.silences or self._slowest_s is None or not self.line.is_shared:
            return self.timeout_s
        least_s = max(PATIENCE_OVER_SLOWEST * self._slowest_s, LEAST_PATIENCE_S)
        return min(self.timeout_s, least_s)

    def answered(self, taken_s: float) -> None:
        """Count an answer."""
        self.silences = 0
        self._until_ns = 0
        self._slowest_s = max(self._slowest_s or 0.0, taken_s)

    def was_silent(self, waited_s: float) -> None:
        """Count a silence that took `waited_s` of the line's time."""
        self.silences += 1
        if self.silences >= SILENCES_BEFORE_REST and self.line.is_shared:
            times = min(1 << self.silences, MOST_RESTED)
            self.rest(min(times * waited_s, LONGEST_REST_S))

    def rest(self, seconds: float) -> None:
        """Leave it alone for this time."""
        self._until_ns = self.clock.monotonic_ns() + int(seconds * 1e9)

    def refuse_while_resting(self) -> None:
        """Raise `NoAnswer` at once while it is left alone."""
        left_ns = self._until_ns - self.clock.monotonic_ns()
        if left_ns > 0:
            raise NoAnswer(
                f"{self.who}: it did not answer, and is asked again in {left_ns / 1e9:.1f} s, so "
                "that the others on its line are not held up"
            )
