"""Our SCPI driver against the promises, over a pseudo-terminal and over TCP; and their teeth."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from drivers.base.clock import SystemClock
from drivers.driver import Driver, DriverSetUp, OpensDriver
from drivers.errors import GarbledAnswer, NoAnswer, Reopen
from drivers.link.link import Link, after
from drivers.link.serial_settings import SerialSettings
from drivers.options import read_options
from drivers.promises import PROMISES, TIMEOUT_S, Fault, Promise, PromiseBroken
from drivers.reading import Identity, Reading
from drivers.scpi.scpi import open_scpi
from tests.drivers.fake_end import FakeEnd, PtyEnd, TcpEnd
from tests.drivers.fake_supply import FakeSupply


def supply() -> FakeSupply:
    return FakeSupply(late_s=1.5 * TIMEOUT_S)


@pytest.fixture(params=["pty", "tcp"])
def end(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[FakeEnd]:
    made = PtyEnd(supply(), tmp_path / "port") if request.param == "pty" else TcpEnd(supply())
    made.options = "?quiet_ms=10"
    with made:
        yield made


@pytest.mark.parametrize("promise", PROMISES, ids=str)
def test_the_scpi_driver_keeps_its_promises(promise: Promise, end: FakeEnd) -> None:
    promise.check(open_scpi, end)


class Careless:
    """A driver as it is often written: it takes the next line for the answer.

    The flags say what it does wrong.
    """

    def __init__(self, link: Link, flaws: str) -> None:
        self.link = link
        self.flaws = flaws
        self.clock = SystemClock()
        self.text = b""

    @property
    def deadline_s(self) -> float:
        return 0.001 if "slow" in self.flaws else 1.0

    def open(self) -> Identity:
        try:
            self.link.open(after(self.clock, 0.5))
            return Identity(self.ask(b"*IDN?\n").decode("latin-1"))
        except Reopen:
            if "trusting" in self.flaws:
                return Identity("some supply")
            raise
        except NoAnswer as error:
            if "wrong-tree" in self.flaws:
                raise
            raise Reopen(str(error)) from error

    def read(self) -> Reading:
        if "writes" in self.flaws:
            self.link.write(b"OUTP ON\n", after(self.clock, 1.0))
        try:
            volts = float(self.ask(b"MEAS:VOLT?\n"))
            amps = volts if "mixes" in self.flaws else float(self.ask(b"MEAS:CURR?\n"))
        except ValueError as error:
            if "wild" in self.flaws:
                raise
            raise GarbledAnswer(str(error)) from error
        return Reading(volts, amps)

    def close(self) -> None:
        if "raises" in self.flaws:
            raise RuntimeError("closed already")
        self.link.close()

    def ask(self, question: bytes) -> bytes:
        self.link.write(question, after(self.clock, 0.5))
        deadline_ns = after(self.clock, 1.5 if "slow" in self.flaws else TIMEOUT_S)
        while b"\n" not in self.text:
            data = self.link.read(deadline_ns)
            if not data or self.clock.monotonic_ns() > deadline_ns:
                raise NoAnswer("nothing came")
            self.text += data
        line, _, self.text = self.text.partition(b"\n")
        return line


def careless(flaws: str) -> OpensDriver:
    def opens(set_up: DriverSetUp, /) -> Driver:
        return Careless(read_options(set_up, SerialSettings()).link, flaws)

    return opens


@pytest.mark.parametrize(
    ("words", "flaws"),
    [
        ("a failed opening is a Reopen, and heals", "wrong-tree"),
        ("a failed opening is a Reopen, and heals", "trusting"),
        ("a reading is the answer to its question", "mixes"),
        ("no answer goes to another question", "takes the next line"),
        ("only questions leave", "wild"),
        ("neither takes longer than the deadline", "slow"),
        ("close never raises", "raises"),
        ("only questions leave", "writes"),
    ],
)
def test_a_careless_driver_is_caught(words: str, flaws: str, tmp_path: Path) -> None:
    promise = next(promise for promise in PROMISES if promise.words == words)
    fake = supply()
    with (
        PtyEnd(fake, tmp_path / "port") as end,
        pytest.raises(RuntimeError if flaws == "raises" else PromiseBroken),
    ):
        promise.check(careless(flaws), end)
    fake.received = [message for message in fake.received if message != b"OUTP ON"]
    end.behave(Fault.NONE)
    end.unplug()
