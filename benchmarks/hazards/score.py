"""The figures of one row, and of the quiet hours."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from benchmarks.hazards.judge import Outcome

RIGHT = 0.98
"""Goal: share of the draws that are told right."""
QUIET_HOURS_FOR_ONE = 50.0
"""Goal: no alarm or prompt is false more often than once in so many hours."""


@dataclass(frozen=True, slots=True)
class RowScore:
    """One row over its draws.

    Parameters
    ----------
    delay_s, worst_s
        From the event to the first thing that had to be said; None where it never was.
    missed
        The commonest fault, in words; "" for none.
    """

    row: str
    title: str
    draws: int
    right: int
    delay_s: float | None
    worst_s: float | None
    missed: str
    seconds: float

    @classmethod
    def of(cls, row: str, title: str, outcomes: Sequence[Outcome], seconds: float) -> "RowScore":
        """Sum up the draws."""
        delays = [o.delay_s for o in outcomes if o.delay_s is not None]
        faults = Counter(_kind_of(o.faults[0]) for o in outcomes if o.faults)
        return cls(
            row,
            title,
            len(outcomes),
            sum(o.is_right for o in outcomes),
            median(delays) if delays else None,
            max(delays) if delays else None,
            faults.most_common(1)[0][0] if faults else "",
            seconds,
        )

    @property
    def share(self) -> float:
        """Draws that were told right, 0 to 1."""
        return self.right / self.draws

    @property
    def is_met(self) -> bool:
        """Whether the goal is met."""
        return self.share >= RIGHT

    @property
    def delay_text(self) -> str:
        """Median and worst delay in words."""
        if self.delay_s is None or self.worst_s is None:
            return "-"
        return f"{max(self.delay_s, 0.0):.1f} s, worst {max(self.worst_s, 0.0):.1f} s"

    @property
    def line(self) -> str:
        """For a terminal."""
        missed = f"; {self.missed}" if self.missed else ""
        return (
            f"{self.row:5} {self.right:3} of {self.draws} ({self.share:.0%}), {self.delay_text}"
            f"  {self.title}{missed}  [{self.seconds:.1f} s]"
        )


@dataclass(frozen=True, slots=True)
class QuietScore:
    """False alarms and prompts of the quiet scenes, by name."""

    hours: float
    false: dict[str, int]

    @property
    def most(self) -> float:
        """How many of one name are allowed."""
        return self.hours / QUIET_HOURS_FOR_ONE

    @property
    def is_met(self) -> bool:
        """Whether no name is over it."""
        return all(count <= max(self.most, 1.0) for count in self.false.values())

    @property
    def line(self) -> str:
        """For a terminal."""
        names = ", ".join(f"{name} {count}" for name, count in sorted(self.false.items()))
        return f"quiet: {self.hours:.1f} h; false: {names or 'none'}"


def _kind_of(fault: str) -> str:
    """A fault without its times and numbers, short."""
    text = fault.partition(" > ")[0]
    for stop in ("not said:", "late by", "action begins"):
        if text.startswith(stop):
            return text if stop != "late by" else "late: " + text.partition("  ")[2][:60]
    head, _, rest = text.partition(": ")
    words = rest.split(None, 1)
    return f"{head}: {words[-1].partition(':')[0][:60]}" if words else head
