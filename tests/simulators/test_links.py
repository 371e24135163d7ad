"""Real pseudo-terminals and real sockets, with the time in the test's hand."""

import os
import socket
import struct
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import serial

from simulators.link import CannotServe
from simulators.link_pty import PtyLink
from simulators.link_tcp import TcpLink
from simulators.pace import Deadline, HandPace, RealPace, machine_s
from simulators.playing import playing
from simulators.serving import MOST_WAITING_BYTES


@contextmanager
def caller(address: str) -> Iterator[socket.socket]:
    host, port = address.removeprefix("scpi:tcp://").split(":")
    with socket.create_connection((host, int(port)), timeout=5.0) as connection:
        yield connection


def ask(connection: socket.socket, message: bytes) -> bytes:
    connection.sendall(message)
    answer = b""
    while not answer.endswith(b"\n"):
        answer += connection.recv(4096)
    return answer


def test_a_conversation_over_a_serial_port() -> None:
    pace = HandPace()
    with playing("tank-warms-to-trip", "scpi-serial", pace=pace) as supply:
        assert supply.address.startswith("scpi:/dev/")
        path = supply.address.removeprefix("scpi:")
        with serial.Serial(path, 9600, timeout=5.0) as port:
            port.write(b"*IDN?\n")
            assert port.readline() == b"BATHVIGIL SIM,DC-12-40,SIM0001,1.0\n"
            pace.move_to(60.0)
            port.write(b"MEAS:VOLT?;CURR?\r\n")
            volts, amps = port.readline().split(b";")
        assert float(volts) == pytest.approx(9.0, abs=0.02)
        assert float(amps) == pytest.approx(35.3, abs=0.5)
        assert [exchange.t_s for exchange in supply.exchanges] == [0.0, 60.0]
        assert supply.exchanges[1].answer == f"{float(volts):.3f};{float(amps):.2f}"


def test_a_serial_port_can_be_opened_again_and_again() -> None:
    with playing("quiet-strip", "scpi-serial", pace=HandPace()) as supply:
        for _ in range(3):
            with serial.Serial(supply.address.removeprefix("scpi:"), timeout=5.0) as port:
                port.write(b"SYST:VERS?\n")
                assert port.readline() == b"1999.0\n"


def test_bytes_pass_the_serial_port_unchanged_both_ways() -> None:
    with playing("quiet-strip", "scpi-serial", pace=HandPace()) as supply:
        fd = os.open(supply.address.removeprefix("scpi:"), os.O_RDWR | os.O_NOCTTY)
        try:
            os.write(
                fd, b"\x03\x11\x13\x7f\r\nSYST:VERS?\n"
            )  # no interrupt, no flow control, no echo
            assert os.read(fd, 100) == b"1999.0\n"
        finally:
            os.close(fd)
        assert supply.exchanges[0].question == "\x03\x11\x13\x7f"


def test_a_steady_name_leads_to_the_port_and_goes_with_it(tmp_path: Path) -> None:
    name = tmp_path / "supply"
    name.symlink_to("/dev/gone")  # left behind by one that was killed
    with playing("quiet-strip", "scpi-serial", pace=HandPace(), link_name=name) as supply:
        assert str(name.readlink()) == supply.address.removeprefix("scpi:")
        with serial.Serial(str(name), timeout=5.0) as port:
            port.write(b"OUTP?\n")
            assert port.readline() == b"0\n"
    assert not name.is_symlink()


def test_a_steady_name_that_now_leads_elsewhere_is_left_alone(tmp_path: Path) -> None:
    name = tmp_path / "supply"
    first = PtyLink(name)
    second = PtyLink(name)
    first.close()
    assert str(name.readlink()) == second.address
    second.close()
    assert not name.is_symlink()


def test_a_file_is_never_replaced_by_a_steady_name(tmp_path: Path) -> None:
    name = tmp_path / "precious"
    name.write_text("mine", encoding="utf-8")
    with pytest.raises(CannotServe, match="is not a symbolic link"):
        PtyLink(name)
    assert name.read_text(encoding="utf-8") == "mine"
    with pytest.raises(CannotServe, match="cannot make the link"):
        PtyLink(tmp_path / "no" / "folder")


def test_a_conversation_over_tcp_with_two_callers_at_once() -> None:
    pace = HandPace()
    with playing("quiet-strip", "scpi-tcp", pace=pace, number=42) as supply:
        assert supply.address.startswith("scpi:tcp://127.0.0.1:")
        with caller(supply.address) as one, caller(supply.address) as other:
            assert ask(one, b"*IDN?\n") == b"BATHVIGIL SIM,DC-12-10,SIM0042,1.0\n"
            pace.move_to(60.0)
            one.sendall(b"MEAS:")
            assert float(ask(other, b"MEAS:VOLT?\n")) == pytest.approx(6.0, abs=0.02)
            assert float(ask(one, b"CURR?\n")) == pytest.approx(5.0, abs=0.2)
        with caller(supply.address) as again:
            assert ask(again, b"OUTP?\n") == b"1\n"


def test_a_caller_who_hangs_up_in_the_middle_does_no_harm() -> None:
    with playing("quiet-strip", "scpi-tcp", pace=HandPace()) as supply:
        with caller(supply.address) as rude:
            rude.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            rude.sendall(b"MEAS:VOLT?\nMEAS:VO")
        with caller(supply.address) as polite:
            assert ask(polite, b"SYST:VERS?\n") == b"1999.0\n"


def test_a_caller_who_does_not_read_loses_answers_and_stops_nobody() -> None:
    with playing("quiet-strip", "scpi-serial", pace=HandPace()) as supply:
        fd = os.open(supply.address.removeprefix("scpi:"), os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        try:
            asked = 0
            while asked < 8000:
                try:
                    asked += os.write(fd, b"*IDN?\n") // 6
                except BlockingIOError:
                    continue
            got = b""
            while b"1999.0" not in got:
                try:
                    got += os.read(fd, 65536)
                    os.write(fd, b"SYST:VERS?\n")
                except BlockingIOError:
                    continue
        finally:
            os.close(fd)
    answer = b"BATHVIGIL SIM,DC-12-10,SIM0001,1.0\n"
    assert 0 < got.count(answer) < 8000
    assert len(got) < 3 * MOST_WAITING_BYTES


def test_a_taken_port_is_named_with_its_cure() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(
            CannotServe, match=rf"port {port} on 127\.0\.0\.1 is taken; leave --port"
        ):
            TcpLink(port)


def test_where_there_are_no_pseudo_terminals_it_says_what_to_use(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def none_left() -> tuple[int, int]:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "openpty", none_left)
    with pytest.raises(CannotServe, match="no pseudo-terminal to be had: No space left"):
        PtyLink()
    monkeypatch.setitem(sys.modules, "tty", None)
    with pytest.raises(CannotServe, match="use --link scpi-tcp"):
        PtyLink()


def test_real_time_begins_when_it_is_first_asked_for_and_runs_at_its_speed() -> None:
    now_s = [100.0]
    pace = RealPace(10.0, clock=lambda: now_s[0])
    now_s[0] = 500.0
    assert pace.t_s() == 0.0
    now_s[0] = 503.0
    assert pace.t_s() == 30.0


def test_hand_held_time_never_goes_back() -> None:
    pace = HandPace()
    pace.move_to(5.0)
    pace.move_to(4.0)
    assert pace.t_s() == 5.0


def test_a_deadline_counts_down_to_nothing() -> None:
    now_s = [0.0]
    deadline = Deadline(2.0, clock=lambda: now_s[0])
    assert (deadline.left_s, deadline.is_over) == (2.0, False)
    now_s[0] = 3.0
    assert (deadline.left_s, deadline.is_over) == (0.0, True)
    assert not Deadline(None).is_over


def test_a_pseudo_terminal_knows_how_late_its_bytes_come() -> None:
    """No longer than bytes were ever seen to take, and nothing of the trial is left behind."""
    link = PtyLink()
    try:
        (port,) = link.ports()
        assert 0.0 < port.late_s < 1.0
        assert port.read() is None
        fd = os.open(link.address, os.O_RDWR | os.O_NOCTTY)
        os.write(fd, b"MEAS?")
        os.close(fd)
        began_s = machine_s()
        while (came := port.read()) is None and machine_s() - began_s < 5.0:
            pass
        assert came == b"MEAS?"
    finally:
        link.close()
