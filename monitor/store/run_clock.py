"""The clock that a run is recorded by."""

from drivers.base.clock import Clock, SpedClock, SystemClock, boot_id, sped_clock_from_now
from monitor.model.run import RunRow, Segment


def run_clock(row: RunRow, segment: Segment) -> Clock:
    """The clock of a run, to continue it or to watch it.

    A sped-up clock is rebuilt from its anchor, which holds within one boot of the machine.
    """
    if row.facts.clock_speed == 1:
        return SystemClock()
    if segment.boot_id != boot_id():
        return sped_clock_from_now(row.facts.clock_speed)
    return SpedClock(
        row.facts.clock_speed, segment.clock_anchor_monotonic_ns, segment.clock_anchor_utc_ns
    )
