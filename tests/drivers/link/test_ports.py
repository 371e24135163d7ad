"""What /sys and /dev tell of serial ports, and stable names looked up at each opening."""

import os
import tty
from collections.abc import Iterator
from pathlib import Path

import pytest

from drivers.address import parse_address
from drivers.base.clock import SystemClock
from drivers.errors import BadAddress, PortMissing
from drivers.link.link import after
from drivers.link.port_names import PortName, line_of
from drivers.link.ports import list_serial_ports
from drivers.link.serial_link import SerialLink
from drivers.link.serial_settings import SerialSettings
from drivers.link.shared_link import SharedLink
from tests.drivers.fake_tree import FakeTree

BY_ID = "/dev/serial/by-id/usb-1a86_USB_Serial-if00-port0"


@pytest.fixture
def tree(tmp_path: Path) -> FakeTree:
    return FakeTree(tmp_path / "machine")


def look_up(tree: FakeTree, name: str) -> str:
    return PortName(name, tree.root).look_up().removeprefix(str(tree.root))


def test_an_adapter_is_told_with_all_its_names(tree: FakeTree) -> None:
    tree.plug_in("ttyUSB0", socket="1-1.4", serial="A7XK", interface=1)
    (port,) = list_serial_ports(tree.root)
    assert port.device == "/dev/ttyUSB0"
    assert port.driver == "ch341-uart"
    assert port.by_id == ("/dev/serial/by-id/usb-1a86_USB_Serial_A7XK-if01-port0",)
    assert port.by_path == ("/dev/serial/by-path/pci-0-usb-0:1-1.4:1.1-port0",)
    assert port.adapter is not None
    assert port.adapter.usb == "usb:1a86:7523:1"
    assert (port.adapter.serial, port.adapter.socket) == ("A7XK", "1-1.4")
    assert port.best_name == port.by_id[0]
    assert port.words == "USB Serial"


def test_consoles_and_empty_places_on_the_board_are_no_ports(tree: FakeTree) -> None:
    tree.board_port("ttyS0", chip=4)
    tree.board_port("ttyS1", chip=0)
    (port,) = list_serial_ports(tree.root)
    assert (port.device, port.driver, port.best_name) == ("/dev/ttyS0", "serial8250", "/dev/ttyS0")


def test_ports_come_in_the_order_of_their_numbers(tree: FakeTree) -> None:
    for number in (10, 2, 0):
        tree.plug_in(f"ttyUSB{number}", socket=f"1-{number}")
    assert [port.device[-2:] for port in list_serial_ports(tree.root)] == ["B0", "B2", "10"]


def test_text_of_an_adapter_is_made_safe(tree: FakeTree) -> None:
    tree.plug_in("ttyUSB0", words="USB\x1b[2J")
    assert list_serial_ports(tree.root)[0].words == "USB<1B>[2J"


def test_without_a_sys_no_ports_are_known(tmp_path: Path) -> None:
    assert list_serial_ports(tmp_path) == ()


def test_two_adapters_that_look_the_same_get_their_names_by_path(tree: FakeTree) -> None:
    tree.plug_in("ttyUSB0", socket="1-1")
    tree.plug_in("ttyUSB1", socket="1-2")
    first, second = list_serial_ports(tree.root)
    assert (first.twins, second.twins) == (("/dev/ttyUSB1",), ("/dev/ttyUSB0",))
    assert first.best_name == "/dev/serial/by-path/pci-0-usb-0:1-1:1.0-port0"
    assert second.best_name == "/dev/serial/by-path/pci-0-usb-0:1-2:1.0-port0"


def test_a_serial_number_tells_two_adapters_apart(tree: FakeTree) -> None:
    tree.plug_in("ttyUSB0", socket="1-1", serial="A1")
    tree.plug_in("ttyUSB1", socket="1-2", serial="A2")
    assert all(not port.twins for port in list_serial_ports(tree.root))


class TestLookingUp:
    """The numbered rules of `port_names.py`."""

    def test_a_link_is_followed_when_it_is_opened(self, tree: FakeTree, tmp_path: Path) -> None:
        alias = tmp_path / "bench-1"
        assert look_up(tree, str(alias)) == str(alias)
        tree.plug_in("ttyUSB0")
        assert look_up(tree, BY_ID) == BY_ID

    @pytest.mark.parametrize("name", ["usb:1a86:7523", "usb:1A86:7523:0"])
    def test_numbers_name_the_adapter_wherever_it_is(self, name: str, tree: FakeTree) -> None:
        tree.plug_in("ttyUSB0", vendor="0403", product="6001", socket="1-1")
        tree.plug_in("ttyUSB1")
        assert look_up(tree, name) == "/dev/ttyUSB1"
        tree.pull_out("ttyUSB1")
        with pytest.raises(PortMissing, match=r"plugged in are: usb:0403:6001:0"):
            look_up(tree, name)
        tree.plug_in("ttyUSB7", socket="2-3")
        assert look_up(tree, name) == "/dev/ttyUSB7"

    def test_the_interface_chooses_between_an_adapters_ports(self, tree: FakeTree) -> None:
        tree.plug_in("ttyUSB0", interface=0)
        tree.plug_in("ttyUSB1", interface=1)
        assert look_up(tree, "usb:1a86:7523:1") == "/dev/ttyUSB1"
        with pytest.raises(BadAddress, match="several adapters"):
            look_up(tree, "usb:1a86:7523")

    def test_misspelt_numbers_say_how_to_write_them(self, tree: FakeTree) -> None:
        with pytest.raises(BadAddress, match=r"write it like usb:1a86:7523"):
            look_up(tree, "usb:1a86")

    def test_a_by_id_name_that_two_share_is_refused_for_by_path(self, tree: FakeTree) -> None:
        tree.plug_in("ttyUSB0", socket="1-1")
        tree.plug_in("ttyUSB1", socket="1-2")
        with pytest.raises(BadAddress) as told:
            look_up(tree, BY_ID)
        assert "/dev/serial/by-path/pci-0-usb-0:1-1:1.0-port0 or " in str(told.value)
        tree.pull_out("ttyUSB0")
        assert look_up(tree, BY_ID) == BY_ID

    def test_a_plain_name_means_the_adapter_that_was_met_there(self, tree: FakeTree) -> None:
        tree.plug_in("ttyUSB0", serial="A1")
        name = PortName("/dev/ttyUSB0", tree.root)
        name.look_up()
        name.remember()
        tree.pull_out("ttyUSB0")
        tree.plug_in("ttyUSB0", socket="1-9", serial="B2")
        with pytest.raises(PortMissing, match=r"serial number A1; .* is now another adapter"):
            name.look_up()
        tree.plug_in("ttyUSB1", socket="1-7", serial="A1")
        assert name.look_up().endswith("/dev/ttyUSB1")

    def test_of_two_twins_only_the_one_in_its_socket_is_taken(self, tree: FakeTree) -> None:
        tree.plug_in("ttyUSB0", socket="1-1")
        tree.plug_in("ttyUSB1", socket="1-2")
        name = PortName("/dev/ttyUSB0", tree.root)
        name.remember()
        tree.pull_out("ttyUSB0")
        with pytest.raises(PortMissing):
            name.look_up()
        tree.plug_in("ttyUSB5", socket="1-1")
        assert name.look_up().endswith("/dev/ttyUSB5")
        tree.pull_out("ttyUSB5")
        tree.plug_in("ttyUSB6", socket="1-3")
        with pytest.raises(BadAddress, match="several adapters"):
            name.look_up()

    def test_a_port_without_an_adapter_is_taken_as_it_is(self, tree: FakeTree) -> None:
        tree.board_port("ttyS0", chip=4)
        name = PortName("/dev/ttyS0", tree.root)
        name.remember()
        assert name.look_up().endswith("/dev/ttyS0")


@pytest.fixture
def pty() -> Iterator[tuple[int, str]]:
    master, slave = os.openpty()
    tty.setraw(slave)
    yield master, os.ttyname(slave)
    os.close(master)
    os.close(slave)


@pytest.mark.parametrize("name", ["/dev/ttyUSB0", "usb:1a86:7523", BY_ID])
def test_the_link_opens_the_adapter_that_came_back_as_another_port(
    name: str, tree: FakeTree, pty: tuple[int, str]
) -> None:
    master, terminal = pty
    clock = SystemClock()
    link = SerialLink(name, SerialSettings(), clock, tree.root)
    for port in ("ttyUSB0", "ttyUSB1", "ttyUSB0", "ttyUSB3"):
        tree.plug_in(port, leads_to=terminal)
        link.open(after(clock, 1.0))
        link.write(b"*IDN?\n", after(clock, 1.0))
        assert os.read(master, 100) == b"*IDN?\n"
        link.close()
        tree.pull_out(port)
        with pytest.raises(PortMissing):
            link.open(after(clock, 1.0))


class TestOneLine:
    """One port under several names, as two supplies of a bench may give them."""

    NAMES = ("/dev/ttyUSB0", "usb:1a86:7523", BY_ID)

    def lines(self, tree: FakeTree, *names: str) -> set[str]:
        return {line_of(parse_address(f"modbus:{name}?unit=1"), tree.root) for name in names}

    def test_all_names_of_a_port_lead_to_one_line(
        self, tree: FakeTree, tmp_path: Path, pty: tuple[int, str]
    ) -> None:
        _, terminal = pty
        tree.plug_in("ttyUSB0", leads_to=terminal)
        alias = tmp_path / "bench-1"
        alias.symlink_to(terminal)
        assert self.lines(tree, *self.NAMES, str(alias)) == {terminal}

    def test_two_ports_are_two_lines_and_what_is_not_there_keeps_its_name(
        self, tree: FakeTree
    ) -> None:
        tree.plug_in("ttyUSB0", serial="A1")
        tree.plug_in("ttyUSB1", serial="A2", socket="1-5")
        assert len(self.lines(tree, "/dev/ttyUSB0", "/dev/ttyUSB1", "usb:dead:beef")) == 3
        assert self.lines(tree, "usb:dead:beef") == {"usb:dead:beef"}

    def test_a_host_is_a_line_whatever_the_unit(self, tree: FakeTree) -> None:
        assert self.lines(tree, "tcp://10.0.0.7:502") == {"10.0.0.7:502"}

    @pytest.mark.parametrize("first", range(3))
    def test_units_under_three_names_share_one_open_port_before_and_after_a_plugging_in(
        self, first: int, tree: FakeTree, pty: tuple[int, str]
    ) -> None:
        """In whatever order they come back, each by the name that its supply was given."""
        _, terminal = pty
        clock = SystemClock()
        shares = []
        for name in (*self.NAMES[first:], *self.NAMES[:first]):
            link = SerialLink(name, SerialSettings(), clock, tree.root)
            shares.append(SharedLink(link, clock, 0.0, 0.0, "9600 baud 8N1", link.name))
        for port in ("ttyUSB0", "ttyUSB4"):
            tree.plug_in(port, leads_to=terminal)
            for share in shares:
                share.open(after(clock, 1.0))
            assert all(share.is_shared for share in shares)
            for share in shares:
                share.close()
            tree.pull_out(port)
            for share in shares:
                with pytest.raises(PortMissing):
                    share.open(after(clock, 1.0))
            shares.reverse()

    def test_another_adapter_that_gets_the_old_name_is_another_line(
        self, tree: FakeTree, pty: tuple[int, str]
    ) -> None:
        _, terminal = pty
        master, other = os.openpty()
        clock = SystemClock()
        first = SerialLink("/dev/ttyUSB0", SerialSettings(), clock, tree.root)
        stranger = "/dev/serial/by-id/usb-1a86_USB_Serial_B2-if00-port0"
        second = SerialLink(stranger, SerialSettings(), clock, tree.root)
        one, two = (
            SharedLink(link, clock, 0.0, 0.0, "9600 baud 8N1", link.name)
            for link in (first, second)
        )
        tree.plug_in("ttyUSB0", serial="A1", leads_to=terminal)
        one.open(after(clock, 1.0))
        one.close()
        tree.pull_out("ttyUSB0")
        tree.plug_in("ttyUSB0", serial="B2", leads_to=os.ttyname(other))
        tree.plug_in("ttyUSB1", serial="A1", socket="1-7", leads_to=terminal)
        for share in (one, two):
            share.open(after(clock, 1.0))
        assert not one.is_shared
        two.write(b"?", after(clock, 1.0))
        assert os.read(master, 10) == b"?"
        one.close()
        two.close()
        os.close(master)
        os.close(other)
