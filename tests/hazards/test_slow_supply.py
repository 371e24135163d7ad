"""A supply that takes half a second for an answer, polled each 0.2 s: nothing is missing of it."""

import pytest

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
from tests.drivers.fake_link import FakeLink, HandClock
from tests.drivers.fake_supply import FakeSupply

REPLY_S, POLL_S, SECONDS = 0.5, 0.2, 300.0
FACTS = RunFacts("bench-1", "scpi:/dev/none", limit_amps=10.0, poll_s=POLL_S)


def test_it_has_full_coverage_and_its_true_charge() -> None:
    supply, clock = FakeSupply(delay_s=(REPLY_S, REPLY_S)), HandClock()
    description = load_scpi_description("scpi-dc-supply")
    link = AskingLink(FakeLink(supply, clock), wires(all_questions(description)))
    driver = ScpiDriver(Conversation(link, clock, 3 * REPLY_S, 0.03, "bench-1"), description)
    told: list[tuple[Sample | Gap, Verdict]] = []
    opened = driver.open()
    station = Station(
        run=1,
        driver=driver,
        vigil=Vigil(FACTS),
        schedule=Schedule(clock.now_ns, POLL_S),
        began_ns=clock.now_ns,
        clock=clock,
        real=clock,
        sink=lambda run, row, verdict: told.append((row, verdict)),
        opened=opened,
    )
    while not told or told[-1][0].t_s < SECONDS:
        clock.wait(max(station.schedule.next_ns - clock.now_ns, 0) / 1e9)
        station.poll()
    amps = [row.amps for row, _ in told if isinstance(row, Sample) and row.amps is not None]
    seconds = told[-1][0].t_s - told[0][0].t_s
    true_amp_hours = sum(amps) / len(amps) * seconds / 3600.0
    charge = told[-1][1].estimate.charge
    assert charge.coverage >= 0.98
    assert charge.amp_hours == pytest.approx(true_amp_hours, rel=0.02)
