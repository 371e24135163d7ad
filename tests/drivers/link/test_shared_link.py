"""Several units on one wire: one open link, turns, and a silent unit that costs little."""

import pytest

from drivers.errors import BadAddress, NoAnswer, Reopen, SupplySilent
from drivers.link.shared_link import SharedLink
from drivers.modbus.register_question import RegisterQuestion
from tests.clock import HandClock
from tests.drivers.fake_registers import FakeRegisters
from tests.drivers.register_talk import NamedLink, Talk, rtu


class OneWire:
    """A wire with several units, and a share of it for each."""

    def __init__(self, *units: int, answers: tuple[int, ...] | None = None) -> None:
        self.clock = HandClock()
        self.unit = FakeRegisters(units=units if answers is None else answers)
        self.wire = NamedLink(self.unit, self.clock)

    def share(self, settings: str = "9600 baud 8E1", gap_s: float = 0.004) -> SharedLink:
        return SharedLink(self.wire, self.clock, gap_s, 0.0, settings)

    def opened(self) -> SharedLink:
        share = self.share()
        share.open(self.clock.now_ns + 10**9)
        return share


def test_the_first_opens_and_the_last_closes() -> None:
    bus = OneWire(1, 2)
    one, two = bus.opened(), bus.opened()
    assert bus.wire.opened == 1
    assert one.is_shared
    one.close()
    assert bus.wire.is_open
    assert not two.is_shared
    two.close()
    assert not bus.wire.is_open


def test_a_failed_link_is_closed_for_all() -> None:
    bus = OneWire(1, 2)
    one, two = bus.opened(), bus.opened()
    bus.wire.is_open = False  # the adapter is pulled out
    with pytest.raises(Reopen):
        one.read(0)
    with pytest.raises(Reopen, match="not open"):
        two.write(b"", 0)
    one.close()
    two.close()
    again = bus.opened()
    assert bus.wire.is_open
    again.close()


def test_an_opening_that_fails_leaves_nothing_behind() -> None:
    bus = OneWire(1)

    def refuse(deadline_ns: int) -> None:
        raise Reopen("no such port")

    good, bus.wire.open = bus.wire.open, refuse  # type: ignore[method-assign]  # a port that is away
    with pytest.raises(Reopen):
        bus.opened()
    bus.wire.open = good  # type: ignore[method-assign]  # and back
    bus.opened().close()


def test_units_of_one_line_must_be_set_alike() -> None:
    bus = OneWire(1, 2)
    one = bus.opened()
    with pytest.raises(BadAddress, match="19200 baud 8E1"):
        bus.share("19200 baud 8E1").open(0)
    assert not one.is_shared
    one.close()


def test_the_gap_holds_between_frames_of_different_units() -> None:
    bus = OneWire(1, 2)
    one, two = bus.opened(), bus.opened()
    began_ns = bus.clock.now_ns
    one.write(b"", 0)
    two.write(b"", 0)
    one.write(b"", 0)
    assert bus.clock.now_ns - began_ns >= 2 * 4_000_000
    one.close()
    two.close()


def test_a_connection_on_which_nobody_hears_anything_is_given_up() -> None:
    bus = OneWire(1, 2)
    one, two = bus.opened(), bus.opened()
    for _ in range(2):
        one.write(b"", 0)
        two.write(b"", 0)
    one.close()
    assert not bus.wire.is_open
    with pytest.raises(Reopen):
        two.write(b"", 0)
    two.close()


def test_a_silent_unit_costs_the_others_little_and_is_asked_again() -> None:
    bus = OneWire(1, 2)
    talks = {}
    for unit in (1, 2):
        on = Talk(bus.unit, bus.clock, bus.wire, bus.opened())
        questions = (RegisterQuestion(unit, 3, 100, 2), RegisterQuestion(unit, 3, 0, 7))
        talks[unit] = (rtu(on, questions), questions[1])
        talks[unit][0].learn(questions[0])
    bus.unit.units = (1,)  # the other one is switched off
    lost_s, good, asked = 0.0, 0, 0
    for _ in range(600):
        good += len(talks[1][0].ask(talks[1][1])) == 7
        began_ns, before = bus.clock.now_ns, len(bus.unit.received)
        with pytest.raises((NoAnswer, SupplySilent)):
            talks[2][0].ask(talks[2][1])
        lost_s += (bus.clock.now_ns - began_ns) / 1e9
        asked += len(bus.unit.received) - before
        bus.clock.wait(0.1)
    assert good == 600
    assert asked >= 5
    assert lost_s < 0.06 * 60  # of a minute of polls, at most one part in twenty
    bus.unit.units = (1, 2)
    bus.clock.wait(10.0)
    assert len(talks[2][0].ask(talks[2][1])) == 7


def test_a_unit_alone_on_its_line_is_never_let_alone() -> None:
    bus = OneWire(1, answers=())
    on = Talk(bus.unit, bus.clock, bus.wire, bus.opened())
    conversation = rtu(on)
    for _ in range(40):
        with pytest.raises((NoAnswer, SupplySilent)) as caught:
            conversation.learn(conversation.sentinel)
        assert "asked again" not in str(caught.value)
    assert len(bus.unit.received) >= 8
