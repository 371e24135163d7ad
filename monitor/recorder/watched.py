"""One run that is being recorded: its place in the store, its station, and how far it has come."""

from dataclasses import dataclass

from monitor.model.alarm import AlarmEvent
from monitor.model.finding import Finding
from monitor.model.run import RunRow
from monitor.recorder.open_run import OpenRun
from monitor.recorder.station import Station
from monitor.recorder.wall_clock import WallClockWatch


@dataclass(slots=True)
class Watched:
    """A run being recorded.

    Parameters
    ----------
    begun
        The run in the store.
    port
        What its supply is reached through; supplies on one port take turns.
    station
        Asks the supply.
    marks
        How many marks the run has.
    last_t_ns
        Of the newest row.
    wall_clock
        Finds where the machine's wall clock was set.
    evaluated_ns, sampled_ns
        The machine's monotonic time at which a row, and a sample, was last judged.
    ended_why
        Why the operator ended it; None while it goes on.
    taken_over
        Changes of alarms that an earlier run has left; told with the first row.
    """

    begun: OpenRun
    port: str
    station: Station
    marks: int
    last_t_ns: int
    wall_clock: WallClockWatch
    evaluated_ns: int
    sampled_ns: int | None = None
    ended_why: str | None = None
    taken_over: tuple[AlarmEvent, ...] = ()

    @property
    def row(self) -> RunRow:
        """The run as it began."""
        return self.begun.row

    def report(self, finding: Finding) -> None:
        """Have the run judge what the recorder found out about itself; from any thread."""
        self.station.ask(lambda vigil: vigil.report(finding))
