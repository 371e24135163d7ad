"""How questions and answers end is found out, not guessed: all sixteen ways, and in time."""

from dataclasses import dataclass

import pytest

from drivers.errors import DriverError, Reopen
from drivers.link.asking_link import AskingLink
from drivers.promises import Fault
from drivers.scpi.scpi import ScpiDriver
from drivers.scpi.scpi_description import load_scpi_description
from drivers.scpi.scpi_ends import all_questions
from drivers.text.conversation import Conversation
from drivers.text.text_question import ENDS, wires
from tests.clock import HandClock
from tests.drivers.fake_link import FakeLink
from tests.drivers.fake_supply import FakeSupply
from tests.drivers.spoiling import Piece

TIMEOUT_S = 0.5
WITHIN_S = 10.0


@dataclass
class Particular(FakeSupply):
    """Hears a question only if it ends in just one way; without one, whatever comes at once."""

    hears: bytes = b"\n"

    def receive(self, data: bytes) -> list[Piece]:
        pieces: list[Piece] = []
        if not self.hears:
            self.received.append(data.strip(b"\r\n"))
            return self.answer_known(data)
        self.unfinished += data
        while self.hears in self.unfinished:
            message, _, self.unfinished = self.unfinished.partition(self.hears)
            self.received += [part for part in message.replace(b"\r", b"\n").split(b"\n") if part]
            pieces += self.answer_known(message)
        if self.unfinished.strip(b"\r\n") == b"":
            self.unfinished = b""
        return pieces

    def answer_known(self, message: bytes) -> list[Piece]:
        return self.answer(message) if self.is_question(message) else []


def bench(supply: FakeSupply, has_probe: bool = False) -> tuple[ScpiDriver, HandClock]:
    clock = HandClock()
    description = load_scpi_description("scpi-dc-supply", has_probe)
    link = AskingLink(FakeLink(supply, clock), wires(all_questions(description)))
    return ScpiDriver(Conversation(link, clock, TIMEOUT_S, 0.03, "fake"), description), clock


@pytest.fixture(params=[(hears, says) for hears in ENDS for says in ENDS], ids="-".join)
def supply(request: pytest.FixtureRequest) -> Particular:
    hears, says = request.param
    return Particular(hears=ENDS[hears], ends_with=ENDS[says], delay_s=(0.0, 0.02))


def test_the_ends_are_found_in_time_and_the_values_are_right(supply: Particular) -> None:
    driver, clock = bench(supply)
    began_ns = clock.now_ns
    driver.open()
    assert (clock.now_ns - began_ns) / 1e9 < WITHIN_S
    for _ in range(5):
        before = len(supply.given)
        reading = driver.read()
        own = {given.quantity: given.value for given in supply.given[before:]}
        assert (reading.volts, reading.amps) == (own["volts"], own["amps"])


def test_what_was_found_is_kept_over_a_reopening(supply: Particular) -> None:
    driver, _ = bench(supply)
    driver.open()
    driver.close()
    asked = len(supply.received)
    driver.open()
    driver.read()
    assert len(supply.received) - asked < 8


@pytest.mark.parametrize("at", range(1, 20))
def test_an_answer_without_an_end_that_is_cut_is_never_a_value(at: int) -> None:
    class Cut(Particular):
        cuts = False

        def spoil(self, answer: bytes) -> list[Piece]:
            return [Piece(0.0, answer[:at] if self.cuts else answer)]

    supply = Cut(ends_with=b"")
    driver, _ = bench(supply)
    driver.open()
    supply.cuts = True
    for _ in range(4):
        try:
            reading = driver.read()
        except Reopen:
            break
        except DriverError:
            continue
        raise AssertionError(f"{reading} came of an answer cut after {at} bytes")


def test_noise_and_silence_are_never_taken_for_a_way_to_end() -> None:
    for fault in (Fault.MUTE, Fault.NOISE, Fault.PARTIAL):
        supply = FakeSupply()
        supply.fault = fault
        driver, _ = bench(supply)
        with pytest.raises(Reopen):
            driver.open()
        supply.fault = Fault.NONE
        supply.unfinished = b""
        for _ in range(4):
            try:
                driver.open()
            except Reopen:
                continue
            break
        assert driver.read().volts is not None
        assert driver.conversation.idle_s is None


class WithProbe(FakeSupply):
    """Answers the question for a temperature as told."""

    celsius = "23.5"

    def one(self, part: str) -> str | None:
        return self.celsius if part.lstrip(":") == "MEAS:TEMP?" else super().one(part)


def test_a_probe_is_read_where_the_supply_gives_a_number() -> None:
    driver, _ = bench(WithProbe(), has_probe=True)
    driver.open()
    assert driver.read().celsius == 23.5


# SCPI-1999 volume 1, 7.2.1.5: 9.91E37 is not a number.
@pytest.mark.parametrize("lacks", [frozenset({"MEAS:TEMP?"}), frozenset[str]()])
def test_a_probe_that_is_not_there_costs_nothing(lacks: frozenset[str]) -> None:
    supply = WithProbe() if not lacks else FakeSupply(lacks=lacks)
    if isinstance(supply, WithProbe):
        supply.celsius = "9.91E37"
    driver, _ = bench(supply, has_probe=True)
    driver.open()
    asked = len(supply.received)
    assert driver.read().celsius is None
    assert not any(b"TEMP" in message for message in supply.received[asked:])


def test_a_temperature_is_not_asked_for_where_no_probe_is_named() -> None:
    supply = WithProbe()
    driver, _ = bench(supply)
    driver.open()
    driver.read()
    assert not any(b"TEMP" in message for message in supply.received)


def test_a_slow_supply_says_how_fast_it_can_be_read() -> None:
    driver, _ = bench(FakeSupply(delay_s=(0.3, 0.3)))
    driver.open()
    for _ in range(20):
        driver.read()
    assert driver.times.proposed_timeout_s == pytest.approx(0.9)
    assert "allows 1 reading per 0.3 s" in driver.times.words(poll_s=0.2)
    assert "allows" not in driver.times.words(poll_s=1.0)
