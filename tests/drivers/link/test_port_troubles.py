"""Each way in which a port cannot be opened has its own words and its own cure."""

import errno
import grp
import os
import pwd
import termios
from pathlib import Path

import pytest
import serial

from drivers.errors import BadAddress, DriverError, PortBusy, PortDenied, PortMissing, Reopen
from drivers.link import port_troubles
from drivers.link.port_holders import Holder
from drivers.link.port_troubles import port_trouble, port_vanished


def trouble(error: BaseException, path: str = "/dev/ttyUSB0") -> DriverError:
    return port_trouble(path, "9600 baud 8N1", error, lambda: ("/dev/ttyUSB1", "/dev/ttyS0"))


def test_a_missing_port_lists_those_that_are_there() -> None:
    error = trouble(serial.SerialException(errno.ENOENT, "could not open port"))
    assert type(error) is PortMissing
    assert "ports that are here: /dev/ttyUSB1, /dev/ttyS0" in str(error)


def test_each_number_has_its_own_words() -> None:
    numbers = (errno.ENOENT, errno.EACCES, errno.EBUSY, errno.EIO, errno.EINVAL, errno.ENOTTY)
    told = [trouble(OSError(number, os.strerror(number))) for number in numbers]
    assert [type(error) for error in told] == [
        PortMissing,
        PortDenied,
        PortBusy,
        Reopen,
        BadAddress,
        BadAddress,
    ]
    assert len({str(error).partition(":")[2] for error in told}) == len(told)
    assert all("/dev/ttyUSB0" in str(error) for error in told)


def test_the_number_is_found_behind_the_librarys_own_exception() -> None:
    """pyserial 3.5 wraps `termios.error`, which is no OSError, into a text."""
    try:
        try:
            raise termios.error(errno.EIO, "Input/output error")
        except termios.error as error:
            raise serial.SerialException(f"Could not configure port: {error}") from error
    except serial.SerialException as error:
        told = trouble(error)
    assert "no working port is behind it" in str(told)


def test_settings_that_the_port_refuses_are_named() -> None:
    told = trouble(termios.error(errno.EINVAL, "Invalid argument"))
    assert type(told) is BadAddress
    assert "9600 baud 8N1" in str(told)


def test_a_busy_port_names_the_thief(monkeypatch: pytest.MonkeyPatch) -> None:
    holders = (Holder(812, "ModemManager"), Holder(4711, "evil\x1b[2Jname"))
    monkeypatch.setattr(port_troubles, "port_holders", lambda path: holders)
    told = str(trouble(OSError(errno.EBUSY, "busy")))
    assert "ModemManager (process 812)" in told
    assert "systemctl disable --now ModemManager" in told
    assert "evil<1B>[2Jname (process 4711): close that program" in told


def test_a_busy_port_without_a_visible_thief_says_how_to_find_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(port_troubles, "port_holders", lambda path: ())
    assert "sudo fuser -v /dev/ttyUSB0" in str(trouble(OSError(errno.EAGAIN, "again")))


def test_two_supplies_on_one_port_are_recognised(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(port_troubles, "port_holders", lambda path: (Holder(os.getpid(), "me"),))
    assert "two supplies in the settings" in str(trouble(OSError(errno.EAGAIN, "again")))


class TestDenied:
    """The words for a user who may not open a port that belongs to a group."""

    @pytest.fixture
    def port(self, tmp_path: Path) -> Path:
        path = tmp_path / "port"
        path.touch()
        path.chmod(0o660)
        return path

    @pytest.fixture
    def group(self, port: Path) -> str:
        return grp.getgrgid(port.stat().st_gid).gr_name

    @pytest.fixture(autouse=True)
    def _in_no_group(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(os, "getegid", lambda: -2)
        monkeypatch.setattr(os, "getgroups", list)
        monkeypatch.setattr(port_troubles, "_is_member", lambda user, gid: False)

    def told(self, port: Path) -> str:
        error = trouble(PermissionError(errno.EACCES, "Permission denied"), str(port))
        assert type(error) is PortDenied
        return str(error)

    def test_the_group_and_the_one_command_are_named(self, port: Path, group: str) -> None:
        user = pwd.getpwuid(os.geteuid()).pw_name
        told = self.told(port)
        assert f"it belongs to group {group}, and {user} is not in it" in told
        assert f"`sudo usermod -aG {group} {user}`, then log out and in again" in told

    def test_a_member_since_the_last_log_in_logs_out_and_in(
        self, port: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(port_troubles, "_is_member", lambda user, gid: True)
        told = self.told(port)
        assert "log out and in again" in told
        assert "usermod" not in told

    def test_a_member_who_is_denied_all_the_same_is_told_so(
        self, port: Path, group: str, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(os, "getgroups", lambda: [port.stat().st_gid])
        assert f"is in its group {group}" in self.told(port)

    def test_a_port_for_its_owner_only_is_told_so(self, port: Path) -> None:
        port.chmod(0o600)
        owner = pwd.getpwuid(port.stat().st_uid).pw_name
        assert f"only its owner {owner} may" in self.told(port)

    def test_a_port_that_cannot_even_be_seen_is_told_so(self, tmp_path: Path) -> None:
        assert "nor see it" in self.told(tmp_path / "hidden")


def test_a_vanished_port_says_what_to_check() -> None:
    told = port_vanished("/dev/ttyUSB0", serial.SerialException("returned no data"))
    assert type(told) is Reopen
    assert "check the USB plug" in str(told)
