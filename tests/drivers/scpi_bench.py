"""The SCPI driver and the supply at its other end, under the test's clock."""

from drivers.link.asking_link import AskingLink
from drivers.scpi.scpi import ScpiDriver
from drivers.scpi.scpi_description import load_scpi_description
from drivers.scpi.scpi_ends import all_questions
from drivers.text.conversation import Conversation
from drivers.text.text_question import wires
from tests.clock import HandClock
from tests.drivers.fake_link import FakeLink
from tests.drivers.fake_supply import FakeSupply

TIMEOUT_S = 0.1
TOGETHER = b"MEAS:VOLT?;:MEAS:CURR?"
STATUS = b"STAT:QUES:COND?;:STAT:OPER:COND?;:OUTP?"
OWN = """
format = 1
kind = "scpi"
title = "bench-1"
source = "its manual"
[ratings]
volts = 12.0
amps = 10.0
[{name}]
ask = "{ask}"
source = "page 2"
[volts]
ask = "MEAS:VOLT?"
source = "page 3"
[amps]
ask = "MEAS:CURR?"
source = "page 3"
"""


class Bench:
    """A driver and the supply at its other end."""

    def __init__(
        self,
        supply: FakeSupply,
        description: str = "scpi-dc-supply",
        serial: str | None = None,
    ) -> None:
        self.supply = supply
        self.clock = HandClock()
        self.link = FakeLink(supply, self.clock)
        read = load_scpi_description(description)
        asking = AskingLink(self.link, wires(all_questions(read)))
        talk = Conversation(asking, self.clock, TIMEOUT_S, 0.02, "bench-1")
        self.driver = ScpiDriver(talk, read, serial)

    def took_s(self, began_ns: int) -> float:
        return (self.clock.now_ns - began_ns) / 1e9


def opened() -> Bench:
    """A bench whose driver is open and whose supply has heard nothing since."""
    made = Bench(FakeSupply())
    made.driver.open()
    made.supply.received.clear()
    return made
