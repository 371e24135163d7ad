"""A temperature's register, held against a thermometer at two settings."""

import struct

import pytest

from monitor.setup.commission.candidates import Candidate, Setting
from monitor.setup.commission.errors import Ambiguous, NotCommissioned
from monitor.setup.commission.panel import read_shown
from monitor.setup.commission.temperature import find_temperature

AT = 6
VOLTS = Candidate(-1, 4, 1, "uint16", "ABCD", 0.01)
"""The manual counts from 1: what it calls 6 is 5 on the wire."""


def settings(*read: tuple[str, tuple[int, ...]]) -> list[Setting]:
    """What was shown, and the registers from the wire's 4 on."""
    return [
        Setting({"celsius": read_shown(shown)}, ((4, 4, (0xDEAD, *registers)),))
        for shown, registers in read
    ]


def test_tenths_of_a_degree_are_found_as_a_number_that_can_be_negative() -> None:
    found = find_temperature(settings(("21.5", (215, 0)), ("22.0", (220, 0))), AT, VOLTS)
    assert (found.kind, found.address, found.function) == ("int16", 5, 4)
    assert found.scale == pytest.approx(0.1)
    assert found.form.read((0xFFCE,)).value == -5.0


def test_a_floating_number_is_found_in_the_order_of_the_volts() -> None:
    volts = Candidate(-1, 4, 1, "float32", "CDAB", 1.0)
    high, low = struct.unpack(">HH", struct.pack(">f", 21.5))
    found = find_temperature(settings(("21.5", (low, high)), ("21.5", (low, high))), AT, volts)
    assert (found.kind, found.order, found.scale) == ("float32", "CDAB", 1.0)


def test_another_register_than_the_one_named_is_not_looked_for() -> None:
    with pytest.raises(NotCommissioned, match="register at 5"):
        find_temperature(settings(("21.5", (7, 215)), ("22.0", (7, 220))), AT, VOLTS)


def test_it_must_fit_at_both_settings() -> None:
    with pytest.raises(NotCommissioned, match=r"21\.5, 30\.0"):
        find_temperature(settings(("21.5", (215, 0)), ("30.0", (215, 0))), AT, VOLTS)
    with pytest.raises(NotCommissioned, match=r"says 21\.5 degrees where 22\.3 was"):
        find_temperature(settings(("22.3", (215, 0)), ("22.3", (215, 0))), AT, VOLTS)


def test_two_ways_that_fit_are_ambiguous() -> None:
    """2 in tens is 20; with the next register it is 196072, in ten-thousandths 19.6."""
    with pytest.raises(Ambiguous, match=r"int16 .*: 20, 20; or .*int32 .*19\.6072.* Leave it out"):
        find_temperature(settings(("20", (2, 65000)), ("20", (2, 65000))), AT, VOLTS)
