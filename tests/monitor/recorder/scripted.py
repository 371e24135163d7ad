"""A station and the scripted driver at its other end, with everything under the test's hand."""

from collections.abc import Callable

from drivers.errors import (
    DriverError,
)
from drivers.reading import Identity, Reading
from monitor.model.run import RunFacts
from monitor.model.sample import Gap, Sample
from monitor.recorder.schedule import Schedule
from monitor.recorder.station import Station
from monitor.watch.vigil import Verdict, Vigil
from tests.clock import HandClock

FACTS = RunFacts("bench-1", "scpi:/dev/none", limit_amps=10.0, poll_s=0.2)
UTC_NS = 1_790_000_000_000_000_000
"""Where the clock of a bench begins."""
GOOD = Reading(9.0, 8.0)
Step = Reading | DriverError


class ScriptedDriver:
    """Answers as told, each after a time that the clock is moved by."""

    deadline_s = 1.0

    def __init__(self, clock: HandClock) -> None:
        self.clock = clock
        self.answers: Callable[[], Step] = lambda: GOOD
        self.opens: Callable[[], Identity | DriverError] = lambda: Identity("sim", "1")
        self.takes_s = 0.01
        self.is_open = False
        self.opened_at_ns: list[int] = []
        self.closed = 0

    def open(self) -> Identity:
        self.opened_at_ns.append(self.clock.now_ns)
        answer = self.opens()
        if isinstance(answer, DriverError):
            raise answer
        self.is_open = True
        return answer

    def read(self) -> Reading:
        assert self.is_open
        self.clock.pass_s(self.takes_s)
        answer = self.answers()
        if isinstance(answer, DriverError):
            raise answer
        return answer

    def close(self) -> None:
        self.is_open = False
        self.closed += 1


class Bench:
    """A station with everything around it under the test's hand."""

    def __init__(self, run: int = 1) -> None:
        self.clock = HandClock(utc_now_ns=UTC_NS)
        self.driver = ScriptedDriver(self.clock)
        self.rows: list[Sample | Gap] = []
        self.verdicts: list[Verdict] = []
        began_ns = self.clock.now_ns
        self.station = Station(
            run=run,
            driver=self.driver,
            vigil=Vigil(FACTS),
            schedule=Schedule(began_ns, FACTS.poll_s),
            began_ns=began_ns,
            clock=self.clock,
            real=self.clock,
            sink=self.take,
        )

    def take(self, run: int, row: Sample | Gap, verdict: Verdict) -> None:
        self.rows.append(row)
        self.verdicts.append(verdict)

    def poll(self, times: int = 1) -> None:
        for _ in range(times):
            wait_ns = self.station.schedule.next_ns - self.clock.now_ns
            self.clock.pass_s(max(wait_ns, 0) / 1e9)
            self.station.poll()
