"""Finds where the machine's wall clock was set during a run.

It may be set by hand, by a time server, or start at 1970 with an empty battery. No length of time
in a run depends on it; but who reads the run later must know where it jumped.
"""

import json
from collections.abc import Callable

from drivers.base.clock import asleep_ns
from monitor.base.moments import utc_text
from monitor.model.event import SettingChange
from monitor.model.sample import Sample

WALL_CLOCK = "wall clock"
"""Name of the change that is kept with the run."""
STEP_NS = 1_000_000_000
"""What moves less from one sample to the next is a clock being steered, not set."""


class WallClockWatch:
    """Watches one run's wall clock against its monotonic one.

    Parameters
    ----------
    apart_ns
        UTC less the run's time, by the last sample before this recorder; None where there is none.
    asleep
        Nanoseconds for which the machine has been suspended: time that the run's clock leaves out.

    Examples
    --------
    >>> watch = WallClockWatch(None, asleep=lambda: 0)
    >>> watch.take(Sample(0, 0, 10**18, 900, 9.0, 5.0))
    >>> step = watch.take(Sample(1, 10**9, 10**18 + 3601 * 10**9, 900, 9.0, 5.0))
    >>> step.before, step.after
    ('"2001-09-09T01:46:41.000Z"', '"2001-09-09T02:46:41.000Z"')
    """

    def __init__(self, apart_ns: int | None, asleep: Callable[[], int] = asleep_ns) -> None:
        self._apart_ns = apart_ns
        self._asleep = asleep
        self._asleep_ns = asleep()

    def take(self, sample: Sample) -> SettingChange | None:
        """The step before this sample, with what the clock would have said and what it says."""
        asleep_ns, before_ns = self._asleep(), self._apart_ns
        slept_ns, self._asleep_ns = asleep_ns - self._asleep_ns, asleep_ns
        self._apart_ns = sample.utc_ns - sample.t_ns
        if before_ns is None or abs(self._apart_ns - before_ns - slept_ns) <= STEP_NS:
            return None
        expected_ns = sample.t_ns + before_ns + slept_ns
        return SettingChange(
            sample.t_ns,
            sample.utc_ns,
            WALL_CLOCK,
            json.dumps(utc_text(expected_ns)),
            json.dumps(utc_text(sample.utc_ns)),
        )
