"""Register numbers as manuals print them, and what is read around them."""

import pytest

from drivers.link.link import Link
from monitor.base.errors import WrongUse
from monitor.setup.commission.asking_registers import AskingRegisters
from monitor.setup.commission.errors import NotCommissioned
from monitor.setup.commission.manual_number import read_manual_number
from monitor.setup.commission.register_map import read_around
from tests.clock import HandClock
from tests.drivers.fake_link import FakeLink
from tests.monitor.setup.commission.ends import RegisterSupply


@pytest.mark.parametrize(
    ("text", "address", "function"),
    [
        # MODBUS Application Protocol V1.1b3, 4.4: register X is addressed X-1; 4xxxx and 3xxxx
        # are the older manuals' tables of holding and input registers (common practice).
        ("40001", 0, 3),
        ("40108", 107, 3),
        ("30009", 8, 4),
        ("400001", 0, 3),
        ("465536", 65535, 3),
        ("300011", 10, 4),
        ("107", 107, None),
        ("0x006B", 107, None),
        ("6Bh", 107, None),
        ("0", 0, None),
        ("59999", 59999, None),
    ],
)
def test_both_ways_of_counting_are_understood(
    text: str, address: int, function: int | None
) -> None:
    number = read_manual_number(text)
    assert (number.address, number.function) == (address, function)
    assert f"taken as wire address {address}" in number.words


@pytest.mark.parametrize("text", ["", "-1", "forty", "99999", "1234567"])
def test_what_is_no_register_is_refused(text: str) -> None:
    with pytest.raises(WrongUse):
        read_manual_number(text)


def read(supply: RegisterSupply, *addresses: int) -> dict[int, list[tuple[int, int]]]:
    """By function: first register and how many, for each block that was given."""
    clock = HandClock()
    link: Link = FakeLink(supply, clock)
    link.open(0)
    blocks = read_around(AskingRegisters(link, clock, "rtu", 0.1), supply.unit, addresses)
    given: dict[int, list[tuple[int, int]]] = {}
    for block in blocks:
        assert block.values is not None
        place = (block.question.address, len(block.values))
        given.setdefault(block.question.function, []).append(place)
    return given


def test_one_block_is_read_where_the_unit_gives_it() -> None:
    supply = RegisterSupply(inputs={place: place for place in range(200)})
    assert read(supply, 100, 104) == {4: [(99, 8)]}


def test_less_and_less_is_asked_for_where_the_unit_refuses() -> None:
    supply = RegisterSupply(holding={place: place for place in (100, 101, 104, 105)})
    given = read(supply, 100, 104)
    assert (100, 2) in given[3]
    assert (104, 2) in given[3]


def test_a_unit_with_single_registers_is_read_singly() -> None:
    supply = RegisterSupply(holding={100: 7, 104: 8}, most=1)
    assert set(read(supply, 100, 104)[3]) == {(100, 1), (104, 1)}


def test_a_unit_that_is_not_there_and_one_without_these_registers_are_told_apart() -> None:
    with pytest.raises(NotCommissioned, match=r"gives none of the registers .*exception 02"):
        read(RegisterSupply(), 100)
    clock = HandClock()
    link: Link = FakeLink(RegisterSupply(unit=9), clock)
    link.open(0)
    with pytest.raises(NotCommissioned, match="unit 1 does not answer"):
        read_around(AskingRegisters(link, clock, "rtu", 0.1), 1, [100])


def test_the_wire_ends_at_its_last_register() -> None:
    supply = RegisterSupply(holding={65534: 1, 65535: 2})
    assert (65534, 2) in read(supply, 65535)[3]
    assert read(RegisterSupply(holding={0: 1, 1: 2, 2: 3}), 0)[3] == [(0, 3)]
