"""The charge that a part takes, and how much of it has passed."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ChargeNeed:
    """The charge that a part takes, ampere-hours.

    Parameters
    ----------
    least
        By Faraday's law for chromium of the stated thickness that leaves as Cr(VI): a guide.
    likely, low, high
        With the bath's own efficiency, and its 10 % and 90 % points; None before one is known.
    before
        What had passed in the run before this step began; it counts for nothing.
    """

    least: float
    likely: float | None = None
    low: float | None = None
    high: float | None = None
    before: float = 0.0

    def passed(self, amp_hours: float) -> float:
        """Of the run's charge what has passed in this step."""
        return max(amp_hours - self.before, 0.0)

    def progress(self, amp_hours: float) -> float | None:
        """Share of the likely charge that has passed; over 1 past it; None where not known."""
        return None if self.likely is None else self.passed(amp_hours) / self.likely

    def seconds_left(self, amp_hours: float, amps: float) -> tuple[float, float, float] | None:
        """Likely, earliest and latest seconds to the finish at these amps; None where unknown."""
        if self.likely is None or self.low is None or self.high is None or amps <= 0.0:
            return None
        likely, early, late = (
            max(need - self.passed(amp_hours), 0.0) / amps * 3600.0
            for need in (self.likely, self.low, self.high)
        )
        return likely, early, late
