"""The Modbus driver: what a poll brings, what an opening finds out, what is refused."""

import random
from collections.abc import Sequence
from pathlib import Path

import pytest

from drivers.address import parse_address
from drivers.driver import DriverSetUp
from drivers.errors import (
    AskAgain,
    BadAddress,
    BadDescription,
    Reopen,
    SupplyRefused,
    WrongSupply,
)
from drivers.modbus.modbus import ModbusDriver, open_modbus
from drivers.modbus.modbus_description import load_modbus_description
from drivers.modbus.modbus_rtu import RtuConversation
from drivers.modbus.register_question import RegisterQuestion
from drivers.promises import Given
from drivers.reading import Mode, Reading
from tests.clock import HandClock
from tests.drivers.fake_registers import DESCRIPTION, FakeRegisters, framed
from tests.drivers.register_talk import TIMEOUT_S, NamedLink, Talk, talk
from tests.drivers.spoiling import BadDay, Piece


def driver_on(
    tmp_path: Path, unit: FakeRegisters, text: str = DESCRIPTION, wire: NamedLink | None = None
) -> tuple[ModbusDriver, Talk]:
    path = tmp_path / "supply.toml"
    path.write_text(text)
    description = load_modbus_description(str(path))
    on = talk(unit, wire)
    questions = [
        RegisterQuestion(1, place.function, place.address, place.count)
        for place in (description.sentinel, *description.places)
    ]
    conversation = RtuConversation(
        on.line, questions, questions[0], on.clock, TIMEOUT_S, 0.01, "modbus:fake"
    )
    return ModbusDriver(conversation, description, 1), on


def values(given: Sequence[Given]) -> dict[str, float]:
    return {each.quantity: each.value for each in given}


def test_a_poll_is_one_request_for_all_it_brings(tmp_path: Path) -> None:
    driver, on = driver_on(tmp_path, FakeRegisters())
    assert driver.open().text == "registers 0001 0007"
    asked, given = len(on.unit.received), len(on.unit.given)
    reading = driver.read()
    own = values(on.unit.given[given:])
    assert len(on.unit.received) == asked + 1
    assert (reading.volts, reading.amps, reading.celsius) == (
        own["volts"],
        own["amps"],
        own["celsius"],
    )
    assert reading.mode is Mode.CONSTANT_VOLTAGE
    assert reading.apart_s == 0.0
    assert reading.doubt is None


def test_a_map_that_forces_two_requests_says_how_far_apart_they_are(tmp_path: Path) -> None:
    unit = FakeRegisters(delay_s=(0.02, 0.02))
    driver, _ = driver_on(tmp_path, unit, DESCRIPTION.replace("address = 2\n", "address = 60\n"))
    driver.open()
    assert len(driver.blocks) == 2
    assert driver.read().apart_s == pytest.approx(0.024, abs=0.001)  # the reply, and the gap


def test_a_device_with_holes_is_read_apart_without_being_told(tmp_path: Path) -> None:
    # V1.1b3, 6.3: exception 02 for a block with an address in it that is not there.
    unit = FakeRegisters(refuses={(3, 0, 7): 2})
    driver, _ = driver_on(tmp_path, unit)
    driver.open()
    assert len(driver.blocks) == 4
    lengths = {(block.place.function, block.place.count) for block in driver.blocks}
    assert len(lengths) == 4
    assert driver.read().volts is not None


def test_a_status_that_is_refused_is_left_out_and_told_of(tmp_path: Path) -> None:
    unit = FakeRegisters(refuses={(3, 70, 1): 2})
    driver, _ = driver_on(tmp_path, unit, DESCRIPTION.replace("address = 4\n", "address = 70\n"))
    driver.open()
    reading = driver.read()
    assert reading.volts is not None
    assert reading.mode is Mode.UNKNOWN
    assert ["status left out" in notice for notice in driver.notices] == [True]


def test_what_the_device_refuses_altogether_is_an_opening_that_says_so(tmp_path: Path) -> None:
    unit = FakeRegisters()
    driver, _ = driver_on(tmp_path, unit)
    unit.refuses = {(3, 0, count): 2 for count in range(1, 10)}
    with pytest.raises(Reopen, match="illegal data address") as caught:
        driver.open()
    assert isinstance(caught.value.__cause__, SupplyRefused)


def test_another_instrument_is_refused_at_the_next_opening(tmp_path: Path) -> None:
    unit = FakeRegisters()
    driver, _ = driver_on(tmp_path, unit)
    driver.open()
    unit.serial = 0x00020009
    driver.close()
    with pytest.raises(WrongSupply, match="'registers 0002 0009' answers"):
        driver.open()


def test_another_instrument_is_not_read_even_without_a_reopening(tmp_path: Path) -> None:
    unit = FakeRegisters()
    driver, on = driver_on(tmp_path, unit)
    driver.open()
    unit.serial = 0x00020009
    on.come(b"\x55")
    with pytest.raises(Reopen):
        driver.read()


# IEEE 754: 7FC00000 is not a number; 42C80000 is 100.0.
def test_no_value_is_no_number_and_a_doubt(tmp_path: Path) -> None:
    unit = FakeRegisters(values={2: bytes.fromhex("7FC00000"), 5: bytes.fromhex("7FC00000")})
    driver, _ = driver_on(tmp_path, unit)
    driver.open()
    reading = driver.read()
    assert reading.amps is None
    assert reading.celsius is None
    assert reading.doubt == "amps: not a number (7FC00000)"


def test_impossible_values_are_kept_and_doubted(tmp_path: Path) -> None:
    text = DESCRIPTION.replace("[talk]", "[ratings]\nvolts = 12.0\namps = 10.0\n[talk]")
    unit = FakeRegisters(values={0: bytes.fromhex("42C80000"), 2: bytes.fromhex("40A00000")})
    driver, _ = driver_on(tmp_path, unit, text)
    driver.open()
    reading = driver.read()
    assert (reading.volts, reading.amps) == (100.0, 5.0)
    assert reading.doubt == "volts out of range (100, rated 12)"


@pytest.mark.parametrize(
    ("address", "says"),
    [
        ("modbus:/dev/ttyUSB0?unit=0", "1 to 247"),
        ("modbus:/dev/ttyUSB0?unit=248", "1 to 247"),
        ("modbus:/dev/ttyUSB0?unit=255", "1 to 247"),
        ("modbus:tcp://127.0.0.1:502?unit=256", "0 to 255"),
        ("modbus:tcp://127.0.0.1:502?framing=rtu&unit=0", "1 to 255"),
        ("modbus:tcp://127.0.0.1:502?unit=x", "0 to 255"),
        ("modbus:tcp://127.0.0.1:502?framing=ascii2", "tcp, rtu or ascii"),
        ("modbus:/dev/ttyUSB0?framing=tcp", "rtu or ascii"),
        ("modbus:tcp://127.0.0.1:502?slave=1", "slave"),
    ],
)
def test_an_address_that_cannot_be_is_refused(address: str, says: str) -> None:
    with pytest.raises(BadAddress, match=says):
        open_modbus(DriverSetUp(parse_address(address), HandClock()))


def test_a_description_of_another_kind_is_refused() -> None:
    address = parse_address("modbus:/dev/ttyUSB0?description=scpi-dc-supply")
    with pytest.raises(BadDescription, match="scpi"):
        open_modbus(DriverSetUp(address, HandClock()))


HALVES = (b"\x00\x00\xff\xff", b"\x00\x01\x00\x00")


class Carrying(FakeRegisters):
    """Its volts go from 0000 FFFF to 0001 0000 and back between any two requests."""

    def reply(self, function: int, address: int, count: int) -> bytes:
        self.values[0] = self.random.choice(HALVES)
        return super().reply(function, address, count)


@pytest.mark.parametrize("is_split", [False, True], ids=["one block", "two blocks"])
def test_a_value_of_two_registers_is_never_put_together_from_two_moments(
    tmp_path: Path, is_split: bool
) -> None:
    """Half of each would be 0 or 131071: 2 x 10,000 polls, each with a whole value."""
    text = DESCRIPTION.replace("float32", "uint32")
    text = text.replace("address = 2\n", "address = 60\n") if is_split else text
    driver, _ = driver_on(tmp_path, Carrying(), text)
    driver.open()
    assert {driver.read().volts for _ in range(10_000)} == {65535.0, 65536.0}


class Troubled(BadDay, FakeRegisters):
    """A unit on a bad day."""

    def own_ways(self, answer: bytes, half: int, wait_s: float) -> list[list[Piece]]:
        return [
            [Piece(wait_s, answer), Piece(wait_s, answer)],
            [Piece(wait_s, framed(9, b"\x03\x02\x12\x34") + answer)],
            [Piece(wait_s, framed(1, b"\x83\x04"))],
            [Piece(2.5 * TIMEOUT_S, answer)],
            [Piece(wait_s, self.random.randbytes(len(answer)))],
        ]


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("is_split", [False, True], ids=["one block", "two blocks"])
def test_no_value_goes_to_another_question_on_a_bad_line(
    tmp_path: Path, seed: int, is_split: bool
) -> None:
    """2 x 4 x 1,500 polls with delays around the time-out and every fault mixed in."""
    unit = Troubled(seed=seed)
    chance = random.Random(seed)

    def cut(data: bytes) -> list[bytes]:
        where = chance.randrange(len(data) + 1)
        return [data[:where], data[where:]]

    text = DESCRIPTION.replace("address = 2\n", "address = 60\n") if is_split else DESCRIPTION
    driver, on = driver_on(tmp_path, unit, text, NamedLink(unit, HandClock(), cut))
    on.line.close()
    unit.delay_s = (0.0, 1.3 * TIMEOUT_S)
    is_open, good = False, 0
    for _ in range(1500):
        before = len(unit.given)
        try:
            if not is_open:
                driver.open()
                is_open = True
                before = len(unit.given)
            reading = driver.read()
        except AskAgain:
            continue
        except Reopen:
            driver.close()
            is_open = False
            continue
        good += 1
        assert strangers(reading, unit.given[before:]) == []
    driver.close()
    # Each reply is proven by another one behind it, since some come twice here.
    assert good > 50


def strangers(reading: Reading, given: Sequence[Given]) -> list[float | None]:
    """The values that were not given in answer to this poll's questions."""
    read = {"volts": reading.volts, "amps": reading.amps}
    return [
        value
        for quantity, value in read.items()
        if value is None or Given(quantity, value) not in given
    ]


# V1.1b3, 6.3. The register of the scale holds decimals, as generic panel meters do; common
# practice, no source.
@pytest.mark.parametrize(
    ("means", "first", "second", "volts"),
    [("decimals", 2, 1, 123.4), ("exponent", 0xFFFE, 0xFFFF, 123.4), ("divisor", 100, 10, 123.4)],
)
def test_a_value_whose_scale_changes_counts_only_from_the_next_reading_on(
    tmp_path: Path, means: str, first: int, second: int, volts: float
) -> None:
    table = f'[volts.scale_from]\nfunction = 3\naddress = 40\nmeans = "{means}"\n[amps]'
    text = DESCRIPTION.replace("[amps]", table).replace('"float32"', '"uint16"', 1)

    class Ranged(FakeRegisters):
        def reply(self, function: int, address: int, count: int) -> bytes:
            self.values[0] = (1234).to_bytes(2, "big") + b"\0\0"
            data = super().reply(function, address, count)
            place = 2 + 2 * (40 - address)
            if address <= 40 < address + count:
                data = data[:place] + self.status.to_bytes(2, "big") + data[place + 2 :]
            return data

    unit = Ranged(status=first)
    driver, _ = driver_on(tmp_path, unit, text)
    driver.open()
    assert driver.read().volts == 12.34
    unit.status = second
    assert driver.read().doubt == "volts: its scale has just changed"
    assert driver.read().volts == volts
    unit.status = 0x4000
    assert "holds 4000, which is none" in (driver.read().doubt or "")


class Mute(FakeRegisters):
    """Gives one register a request, and says nothing to any other question."""

    def answer(self, frame: bytes) -> list[Piece]:
        asked = (frame[1], int.from_bytes(frame[4:6], "big"))
        return super().answer(frame) if asked == (3, 1) else []


def test_a_device_whose_replies_cannot_be_told_apart_is_refused_with_the_reason(
    tmp_path: Path,
) -> None:
    text = DESCRIPTION.partition("[celsius]")[0].replace('"float32"', '"uint16"')
    driver, _ = driver_on(tmp_path, Mute(), text)
    with pytest.raises(Reopen, match="a late one could be taken for another"):
        driver.open()
