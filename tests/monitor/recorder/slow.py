"""A station that polls a simulated SCPI supply whose answers take long, by a clock in the hand."""

from collections.abc import Callable
from dataclasses import dataclass

from drivers.link.asking_link import AskingLink
from drivers.scpi.scpi import ScpiDriver
from drivers.scpi.scpi_description import load_scpi_description
from drivers.scpi.scpi_ends import all_questions
from drivers.text.conversation import Conversation
from drivers.text.text_question import wires
from monitor.model.run import RunFacts
from monitor.model.sample import Gap, Sample
from monitor.recorder.schedule import Schedule
from monitor.recorder.station import Station
from monitor.watch.vigil import Verdict, Vigil
from tests.clock import HandClock
from tests.drivers.fake_link import FakeLink
from tests.drivers.fake_supply import FakeSupply


@dataclass
class SlowBench:
    """The parts; `poll` waits for the next due time and polls."""

    supply: FakeSupply
    driver: ScpiDriver
    clock: HandClock
    station: Station

    def poll(self) -> None:
        self.clock.wait(max(self.station.schedule.next_ns - self.clock.now_ns, 0) / 1e9)
        self.station.poll()


def slow_bench(
    reply_s: float, poll_s: float, sink: Callable[[int, Sample | Gap, Verdict], None]
) -> SlowBench:
    """Opened; its time-out is three times the reply, as `check` proposes."""
    supply, clock = FakeSupply(delay_s=(reply_s, reply_s)), HandClock()
    description = load_scpi_description("scpi-dc-supply")
    link = AskingLink(FakeLink(supply, clock), wires(all_questions(description)))
    driver = ScpiDriver(Conversation(link, clock, 3 * reply_s, 0.03, "bench-1"), description)
    opened = driver.open()
    station = Station(
        run=1,
        driver=driver,
        vigil=Vigil(RunFacts("bench-1", "scpi:/dev/none", limit_amps=10.0, poll_s=poll_s)),
        schedule=Schedule(clock.now_ns, poll_s),
        began_ns=clock.now_ns,
        clock=clock,
        real=clock,
        sink=sink,
        opened=opened,
    )
    return SlowBench(supply, driver, clock, station)
