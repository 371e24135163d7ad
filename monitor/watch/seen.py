"""What the watchers of a run are shown of each row, and what every one of them offers."""

from collections.abc import Sequence
from typing import NamedTuple, Protocol

from monitor.model.card import Way
from monitor.model.estimate import Estimate
from monitor.model.event import Prompt
from monitor.model.finding import Finding
from monitor.model.fittings import Fittings
from monitor.model.sample import Gap, Sample
from monitor.watch.strip_steps import Step


class Seen(NamedTuple):
    """One row and what was made of it; a tuple, since one is made with each row.

    Parameters
    ----------
    volts, amps
        None where the row has no good reading.
    flows
        Whether current flows.
    is_off
        Whether the output was switched off, at this reading or at the last good one.
    is_lost
        Whether the supply has been silent for so long that nothing is known of it.
    is_swab
        Whether this is swab work.
    step
        Where the strip is.
    """

    row: Sample | Gap
    t_s: float
    volts: float | None
    amps: float | None
    flows: bool
    is_off: bool
    is_lost: bool
    is_swab: bool
    step: Step
    estimate: Estimate


class Watcher(Protocol):
    """Looks at each row of a run for one thing."""

    findings: tuple[Finding, ...]
    """What it says of its alarms, as of the last row."""

    def refit(self, fittings: Fittings, way: Way | None) -> None:
        """Go on with the step, the work and the way of another job card."""
        ...

    def update(self, seen: Seen) -> Sequence[Prompt]:
        """Take the next row; what the operator is asked or told."""
        ...
