"""Drivers are found by entry point, ours like any stranger's."""

from importlib.metadata import EntryPoint, entry_points

import pytest

import drivers.registry
from drivers.address import parse_address
from drivers.base.clock import SystemClock
from drivers.driver import DriverSetUp
from drivers.errors import BadAddress
from drivers.registry import GROUP, driver_names, find_opener, open_driver
from drivers.scpi.scpi import ScpiDriver, open_scpi


def set_up(text: str) -> DriverSetUp:
    return DriverSetUp(parse_address(text), SystemClock())


def test_our_driver_is_an_entry_point_of_the_group() -> None:
    assert "scpi" in {entry.name for entry in entry_points(group=GROUP)}
    assert find_opener("scpi") is open_scpi


def test_a_driver_is_made_and_still_closed() -> None:
    driver = open_driver(set_up("scpi:tcp://127.0.0.1:1"))
    assert isinstance(driver, ScpiDriver)
    driver.close()


def test_an_unknown_driver_is_told_those_that_exist() -> None:
    with pytest.raises(BadAddress, match="no driver 'spci'; did you mean 'scpi'"):
        open_driver(set_up("spci:/dev/ttyUSB0"))
    assert "scpi" in driver_names()


@pytest.mark.parametrize(
    ("entries", "says"),
    [
        (["no_such_package:opens"], "cannot be loaded"),
        (["drivers.scpi.scpi:no_such_thing"], "cannot be loaded"),
        (["drivers.registry:GROUP"], "is not a function"),
        (["drivers.scpi.scpi:open_scpi", "another:opens"], "uninstall one of them"),
    ],
)
def test_a_broken_entry_is_told(
    entries: list[str], says: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = [EntryPoint("mine", value, GROUP) for value in entries]
    monkeypatch.setattr(drivers.registry, "entry_points", lambda **_: made)
    with pytest.raises(BadAddress, match=says):
        find_opener("mine")
