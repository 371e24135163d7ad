"""Simulated wires in real time: how long they stay away, and how slow a paced one is."""

import time
from pathlib import Path

import pytest
import serial

from simulators.fault import Fault
from simulators.modbus_frame import rtu_frame
from simulators.pace import HandPace
from simulators.playing import playing
from tests.simulators.test_outages import READ, port_of, serial_port
from tests.whole.processes import wait_until


def test_a_fault_unplugs_for_its_seconds(tmp_path: Path) -> None:
    name = tmp_path / "supply"
    faults = [Fault("unplug", how="away", seconds=0.05)]
    with playing(
        "quiet-strip", "scpi-serial", pace=HandPace(), link_name=name, faults=faults
    ) as supply:
        with serial_port(str(name)) as port:
            port.write(b"*IDN?\n")
            with pytest.raises(serial.SerialException):
                port.read(1)
        wait_until("the adapter's return", name.is_symlink)
        with serial_port(str(name)) as port:
            port.write(b"SYST:VERS?\n")
            assert port.readline() == b"1999.0\n"
    assert [exchange.fault for exchange in supply.exchanges] == ["unplug", None]


def test_a_paced_line_is_as_fast_as_its_baud_and_no_faster() -> None:
    # V1.02, 2.5.1.1 and 2.3: 8 characters of 11 bits, 3.5 of silence, 9 back, 3.5 of silence.
    baud, polls = 19200, 8
    with (
        playing("quiet-strip", "modbus-rtu", pace=HandPace(), baud=baud) as supply,
        serial_port(port_of(supply)) as port,
    ):
        began_s = time.monotonic()
        for _ in range(polls):
            port.write(rtu_frame(1, READ))
            assert len(port.read(9)) == 9
            time.sleep(0.003)  # the silence between frames
        took_s = time.monotonic() - began_s
    assert took_s >= polls * (8 + 3.5 + 9) * 11 / baud
    assert [exchange.fault for exchange in supply.exchanges] == [None] * polls
