"""Real pseudo-terminals and sockets in every protocol, with faults, outages and pacing."""

import re
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import serial

from simulators.fault import Fault
from simulators.faults import Faults, even_mix
from simulators.modbus_frame import rtu_frame, tcp_frame
from simulators.pace import HandPace
from simulators.playing import Playing, playing
from simulators.register_map import permutations
from simulators.tags import Tag, read_tag

READ = bytes.fromhex("03 00 00 00 02")
SERIAL_NUMBER = bytes.fromhex("03 00 10 00 02")


def port_of(supply: Playing, at: int = 0) -> str:
    return supply.addresses[at].split(":", 1)[1].split("?")[0]


@contextmanager
def serial_port(path: str) -> Iterator[serial.Serial]:
    with serial.Serial(path, 9600, timeout=5.0) as port:
        yield port


def call(supply: Playing) -> socket.socket:
    host, port = port_of(supply).removeprefix("tcp://").split(":")
    return socket.create_connection((host, int(port)), timeout=5.0)


def answer_of(connection: socket.socket, frame: bytes, count: int) -> bytes:
    connection.sendall(frame)
    answer = b""
    while len(answer) < count and (data := connection.recv(count - len(answer))):
        answer += data
    return answer


def test_several_supplies_on_one_serial_wire() -> None:
    with playing(
        "quiet-strip", "modbus-rtu", pace=HandPace(), units=(1, 5, 9), mute_units=(5,), number=30
    ) as supply:
        assert [address.split("?")[1] for address in supply.addresses] == [
            "unit=1",
            "unit=5",
            "unit=9",
        ]
        assert len({rig.seed for rig in supply.rigs}) == 3
        with serial_port(port_of(supply)) as port:
            for unit, number in ((1, 30), (9, 32)):
                port.write(rtu_frame(unit, SERIAL_NUMBER))
                data = bytes.fromhex("03 04 00 00 00") + bytes((number,))
                assert port.read(9) == rtu_frame(unit, data)
            port.timeout = 0.05
            port.write(rtu_frame(5, SERIAL_NUMBER))
            assert port.read(9) == b""
        assert [exchange.unit for exchange in supply.exchanges] == [1, 9, 5]


def test_modbus_over_tcp_with_its_address() -> None:
    pace = HandPace()
    with playing("tank-warms-to-trip", "modbus-tcp", pace=pace, registers="meter-on-shunt") as play:
        assert play.address.startswith("modbus:tcp://127.0.0.1:")
        assert play.address.endswith("?unit=1")
        with call(play) as connection:
            read = bytes.fromhex("04 00 00 00 04")
            assert answer_of(connection, tcp_frame(1, 1, read), 17)[:9] == bytes.fromhex(
                "00 01 00 00 00 0B 01 04 08"
            )


def test_a_map_that_is_made_up_on_the_spot() -> None:
    mapped = next(permutations(address=40))
    with (
        playing("quiet-strip", "modbus-tcp", pace=HandPace(), registers=mapped) as supply,
        call(supply) as connection,
    ):
        frame = tcp_frame(1, 1, bytes.fromhex("03 00 27 00 02"))
        assert len(answer_of(connection, frame, 13)) == 13


def test_lines_over_a_serial_port_and_tcp() -> None:
    with playing("quiet-strip", "lines-serial", pace=HandPace(), speech="pair-crlf") as supply:
        assert supply.address.startswith("lines:/dev/")
        with serial_port(port_of(supply)) as port:
            port.write(b"READ\r\n")
            assert port.readline() == b"000.000 V, 000.000 A, OFF\r\n"
    with (
        playing("quiet-strip", "lines-tcp", pace=HandPace(), speech="no-terminator") as supply,
        call(supply) as connection,
    ):
        assert answer_of(connection, b"U", 8) == b"U000.00V"


def test_tags_survive_the_real_wire_with_faults_in_it() -> None:
    # Without late answers, what arrives whole belongs to the last question or was kept for it.
    mix, told = even_mix(0.3, kinds=("mute", "noise", "partial", "merged")), []
    twin = Faults(mix, seed=5)
    struck = [twin.take(0.0)[0] is not None for _ in range(60)]
    with (
        playing(
            "quiet-strip",
            "scpi-serial",
            pace=HandPace(),
            tagged=True,
            number=4,
            faults=Faults(mix, seed=5),
        ) as supply,
        serial_port(port_of(supply)) as port,
    ):
        for number, is_struck in enumerate(struck, 1):
            own = b"%.3f\n" % (Tag("volts", 4, number).whole * 0.001)
            port.timeout = 0.02 if is_struck else 5.0
            port.write(b"MEAS:VOLT?\n")
            while (line := port.read_until(b"\n")).endswith(b"\n"):
                if re.fullmatch(rb"\d+\.\d{3}\n", line):
                    told.append((number, read_tag(float(line))))
                if line.endswith(own):
                    break
    assert [exchange.fault is not None for exchange in supply.exchanges] == struck
    assert 5 < sum(struck) < 35
    assert len(told) > 30
    for number, tag in told:
        assert tag is not None
        assert tag.number == number or (tag.number == number - 1 and struck[number - 2])


def test_an_unplugged_serial_port_is_gone_and_comes_back_under_its_name(tmp_path: Path) -> None:
    name = tmp_path / "supply"
    with playing("quiet-strip", "modbus-rtu", pace=HandPace(), link_name=name) as supply:
        with serial_port(str(name)) as port:
            port.write(rtu_frame(1, READ))
            assert len(port.read(9)) == 9
            supply.unplug()
            assert not name.is_symlink()
            with pytest.raises(serial.SerialException):
                port.read(1)
        supply.plug_in()
        assert str(name.readlink()) == port_of(supply)
        with serial_port(str(name)) as port:
            port.write(rtu_frame(1, READ))
            assert len(port.read(9)) == 9
        other = tmp_path / "other"
        supply.unplug(name=str(other))
        supply.plug_in()
        assert (name.is_symlink(), other.is_symlink()) == (False, True)
    assert not other.is_symlink()


def test_a_reset_cuts_callers_off_and_takes_new_calls() -> None:
    with playing("quiet-strip", "scpi-tcp", pace=HandPace()) as supply:
        with call(supply) as connection:
            supply.unplug("reset")
            with pytest.raises(ConnectionResetError):
                connection.recv(1)
        with call(supply) as connection:
            assert answer_of(connection, b"SYST:VERS?\n", 7) == b"1999.0\n"


def test_refused_calls_until_the_cable_is_back() -> None:
    with playing("quiet-strip", "modbus-tcp", pace=HandPace()) as supply:
        for _ in range(3):
            supply.unplug("refuse")
            with pytest.raises(ConnectionRefusedError):
                call(supply)
            supply.plug_in()
            with call(supply) as connection:
                assert len(answer_of(connection, tcp_frame(1, 1, READ), 13)) == 13


def test_calls_that_are_taken_and_heard_by_nobody() -> None:
    with playing("quiet-strip", "scpi-tcp", pace=HandPace()) as supply:
        supply.unplug("silent")
        with call(supply) as connection:
            connection.settimeout(0.05)
            connection.sendall(b"SYST:VERS?\n")
            with pytest.raises(TimeoutError):
                connection.recv(1)
            supply.plug_in()
            connection.settimeout(5.0)
            assert answer_of(connection, b"*OPC?\n", 2) == b"1\n"
    assert [exchange.question for exchange in supply.exchanges] == ["*OPC?"]


def test_a_reboot_is_silent_and_then_as_after_switching_on() -> None:
    faults = [Fault("reboot", seconds=0.1)]
    with (
        playing("quiet-strip", "scpi-serial", pace=HandPace(), faults=faults) as supply,
        serial_port(port_of(supply)) as port,
    ):
        port.timeout = 0.02
        answer = b""
        asked = 0
        while not answer.endswith(b"\n"):
            port.write(b"*ESR?\n")
            answer = port.readline()
            asked += 1
        assert answer == b"128\n"  # IEEE 488.2-1992, 11.5.1 (from memory): power on
        assert asked > 2


def test_a_reboot_hangs_up_on_callers() -> None:
    faults = [Fault("reboot", seconds=60.0)]
    with playing("quiet-strip", "modbus-tcp", pace=HandPace(), faults=faults) as supply:
        with call(supply) as connection, pytest.raises(ConnectionResetError):
            answer_of(connection, tcp_frame(1, 1, READ), 13)
        with pytest.raises(ConnectionRefusedError):
            call(supply)


def test_outages_leave_no_file_open_and_no_thread(tmp_path: Path) -> None:
    def opened() -> int:
        return len(list(Path("/proc/self/fd").iterdir()))

    name = tmp_path / "supply"
    threads = threading.active_count()
    for link in ("scpi-serial", "scpi-tcp"):
        before = opened()
        with playing("quiet-strip", link, pace=HandPace(), link_name=name) as supply:
            during = opened()
            for how in ("away", "reset", "refuse", "silent") * 10:
                supply.unplug(how)
                supply.plug_in()
            assert opened() == during
        assert opened() == before
    with playing("quiet-strip", "scpi-serial", link_name=name) as supply:
        supply.unplug()
    assert threading.active_count() == threads


def test_a_talker_talks_by_itself() -> None:
    with (
        playing("quiet-strip", "lines-serial", pace=HandPace(), speech="talker") as supply,
        serial_port(port_of(supply)) as port,
    ):
        assert port.readline() == b"00.000;+00.000;OFF\r\n"
