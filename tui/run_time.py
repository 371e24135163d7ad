"""The time of a run in another process: how many run seconds it is now, by the screen's clock.

Within one boot of the machine it goes by the monotonic clock, which never steps; for a segment
of an earlier boot, whose monotonic times mean nothing now, by UTC.
"""

from dataclasses import dataclass

from drivers.base.clock import Clock
from monitor.model.run import Segment
from tui.view import View


@dataclass(frozen=True, slots=True)
class RunTime:
    """Tells the time of one segment of a run.

    Parameters
    ----------
    clock
        The machine's own clock; never a sped one.
    segment
        The recorder's latest stretch of the run.
    speed
        Run seconds per second, as the run's facts say.
    boot
        Name of the present boot of the machine.
    """

    clock: Clock
    segment: Segment
    speed: float
    boot: str

    def now_s(self) -> float:
        """Seconds since the run began, now."""
        at = self.segment
        if self.boot == at.boot_id and self.boot != "unknown":
            anchor_ns = at.clock_anchor_monotonic_ns
            run_ns = anchor_ns + self._sped(self.clock.monotonic_ns() - anchor_ns)
            return (run_ns - at.began_monotonic_ns + at.began_t_ns) / 1e9
        anchor_ns = at.clock_anchor_utc_ns
        run_ns = anchor_ns + self._sped(self.clock.utc_ns() - anchor_ns)
        return (run_ns - at.began_utc_ns + at.began_t_ns) / 1e9

    def _sped(self, elapsed_ns: int) -> int:
        return elapsed_ns if self.speed == 1.0 else int(elapsed_ns * self.speed)


def now_s(view: View, clock: Clock, boot: str) -> float:
    """Run seconds by this clock; of a run that is over, its length."""
    if view.end_s is not None:
        return view.end_s
    if view.segment is None:
        return 0.0
    return RunTime(clock, view.segment, view.row.facts.clock_speed, boot).now_s()
