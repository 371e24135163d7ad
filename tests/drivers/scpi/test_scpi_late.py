"""No value is ever taken for the answer to another question, whatever comes late.

Every value of the fake supply is different from every other, so a reading can be traced to the
question that it was given for.
"""

import random
from pathlib import Path

import pytest

from drivers.address import parse_address
from drivers.base.clock import SystemClock
from drivers.driver import Driver, DriverSetUp
from drivers.errors import AskAgain, Reopen
from drivers.link.asking_link import AskingLink
from drivers.promises import Given
from drivers.reading import Reading
from drivers.scpi.scpi import ScpiDriver, open_scpi
from drivers.scpi.scpi_description import load_scpi_description
from drivers.scpi.scpi_ends import all_questions
from drivers.text.conversation import Conversation
from drivers.text.text_question import wires
from tests.clock import HandClock
from tests.drivers.fake_end import PtyEnd
from tests.drivers.fake_link import FakeLink
from tests.drivers.fake_supply import FakeSupply
from tests.drivers.spoiling import BadDay, Piece

TIMEOUT_S = 0.1


class Troubled(BadDay, FakeSupply):
    """A supply on a bad day."""

    def own_ways(self, answer: bytes, half: int, wait_s: float) -> list[list[Piece]]:
        return [
            [Piece(wait_s, b"*** READY ***\n" + answer)],
            [Piece(wait_s, b'-350,"Queue overflow"\n'), Piece(wait_s, answer)],
            [Piece(wait_s, b"\r\n\n" + answer)],
            [Piece(wait_s, answer + answer)],
            [Piece(wait_s, answer[:half]), Piece(2.5 * TIMEOUT_S, b"?\n")],
        ]


def driver_on(end: FakeLink, clock: HandClock) -> ScpiDriver:
    description = load_scpi_description("scpi-dc-supply")
    link = AskingLink(end, wires(all_questions(description)))
    return ScpiDriver(Conversation(link, clock, TIMEOUT_S, 0.02, "fake"), description)


def poll(driver: Driver, supply: FakeSupply) -> tuple[Reading, list[Given]] | None:
    """Poll as a recorder does; the reading, and what was given for this very question."""
    before = len(supply.given)
    try:
        return driver.read(), supply.given[before:]
    except AskAgain:
        return None
    except Reopen:
        driver.close()
        open_patiently(driver)
        return None


def open_patiently(driver: Driver) -> None:
    for _ in range(200):
        try:
            driver.open()
        except Reopen:
            continue
        return
    raise AssertionError("it never opens again")


def strangers(reading: Reading, given: list[Given]) -> list[float]:
    """The values of a reading that were not given for its question."""
    return [
        value
        for quantity, value in (("volts", reading.volts), ("amps", reading.amps))
        if value is not None and Given(quantity, value) not in given
    ]


@pytest.mark.parametrize("joins", [True, False], ids=["together", "apart"])
@pytest.mark.parametrize("seed", range(4))
def test_no_value_goes_to_another_question_on_a_bad_line(joins: bool, seed: int) -> None:
    """4 x 2 x 4,000 polls with delays around the time-out and every fault mixed in."""
    supply = Troubled(joins=joins, seed=seed)
    clock = HandClock()
    chance = random.Random(seed)

    def cut(data: bytes) -> list[bytes]:
        where = chance.randrange(len(data) + 1)
        return [data[:where], data[where:]]

    driver = driver_on(FakeLink(supply, clock, cut), clock)
    supply.delay_s = (0.0, 0.5 * TIMEOUT_S)
    open_patiently(driver)
    supply.delay_s = (0.2 * TIMEOUT_S, 1.6 * TIMEOUT_S)
    readings = 0
    for _ in range(4000):
        answered = poll(driver, supply)
        clock.wait(chance.choice([0.0, 0.05, 0.2, 0.5]))
        if answered is not None:
            readings += 1
            assert strangers(*answered) == []
    # Asked apart, a poll takes three answers in time: the third proves the order.
    assert readings > 120, "hardly a poll was answered: nothing was tried"


def test_a_second_sentinel_is_never_sent_while_the_first_may_still_be_answered() -> None:
    """Were two under way, the first's late answer would pass for the second's, and a measured
    value between them for the next question's."""

    class Watched(FakeLink):
        def write(self, data: bytes, deadline_ns: int) -> None:
            coming = b"".join(part for _, part in self._coming)
            assert data != b"*IDN?\n" or b"WORKSHOP" not in coming
            super().write(data, deadline_ns)

    supply = FakeSupply()
    clock = HandClock()
    driver = driver_on(Watched(supply, clock), clock)
    driver.open()
    for _ in range(500):
        is_late = supply.random.random() < 0.5
        supply.delay_s = (1.1 * TIMEOUT_S, 1.9 * TIMEOUT_S) if is_late else (0.0, 0.0)
        answered = poll(driver, supply)
        assert answered is None or strangers(*answered) == []
    assert driver.tally.late > 100


def test_after_silence_it_reads_again_by_itself() -> None:
    supply = FakeSupply()
    clock = HandClock()
    driver = driver_on(FakeLink(supply, clock), clock)
    driver.open()
    supply.delay_s = (9.0, 9.0)
    for _ in range(2):
        assert poll(driver, supply) is None
    supply.delay_s = (0.0, 0.0)
    clock.wait(10.0)
    assert any(poll(driver, supply) is not None for _ in range(4))


@pytest.mark.parametrize("joins", [True, False], ids=["together", "apart"])
def test_no_value_goes_to_another_question_on_a_pseudo_terminal(
    joins: bool, tmp_path: Path
) -> None:
    supply = FakeSupply(joins=joins)
    timeout_s = 0.02
    with PtyEnd(supply, tmp_path / "port") as end:
        address = parse_address(f"{end.address}?timeout={timeout_s}&quiet_ms=2")
        driver = open_scpi(DriverSetUp(address, SystemClock()))
        driver.open()
        supply.delay_s = (0.0, 1.3 * timeout_s)
        answered = [poll(driver, supply) for _ in range(70)]
        driver.close()
    good = [one for one in answered if one is not None]
    assert len(good) > 10
    assert len(good) < 70, "no answer was late: nothing was tried"
    assert all(strangers(*one) == [] for one in good)
