"""VISA over VXI-11 on bare sockets, and on the simulator of PyVISA."""

import importlib.util
import sys
import textwrap
from collections.abc import Iterator
from pathlib import Path

import pytest

from drivers.address import parse_address
from drivers.base.clock import SystemClock
from drivers.driver import DriverSetUp
from drivers.errors import BadAddress, DriverError, PortMissing, Reopen
from drivers.link.link import after
from drivers.link.visa_link import VisaLink
from drivers.registry import open_driver
from tests.drivers.instruments.mischief import Mischief
from tests.drivers.instruments.vxi11_wire import (
    CREATE_LINK,
    DESTROY_LINK,
    READ,
    WRITE,
    Vxi11End,
    collect_lost_sockets,
)

ANSWERS = {
    b"*IDN?": b"WORKSHOP,DC-12-10,A0001,1.0",
    b"MEAS:VOLT?": b"8.25",
    b"MEAS:CURR?": b"+3.5000E+00",
}


def answer(question: bytes) -> bytes | None:
    said = ANSWERS.get(question.strip())
    return None if said is None else said + b"\n"


@pytest.fixture(autouse=True)
def _no_socket_is_left() -> Iterator[None]:
    yield
    collect_lost_sockets()


@pytest.fixture
def end() -> Iterator[Vxi11End]:
    made = Vxi11End(answer, Mischief(1, 0.1))
    made.start()
    yield made
    made.close()


def opened(end: Vxi11End) -> VisaLink:
    clock = SystemClock()
    link = VisaLink(end.place.removeprefix("visa:"), clock)
    link.open(after(clock, 2.0))
    return link


def test_a_question_is_answered_and_nothing_but_questions_is_sent(end: Vxi11End) -> None:
    link = opened(end)
    clock = link.clock
    link.write(b"*IDN?\n", after(clock, 1.0))
    assert link.read(after(clock, 1.0)) == ANSWERS[b"*IDN?"] + b"\n"
    assert link.read(after(clock, 0.05)) == b""
    link.close()
    assert end.needless_reads == 0
    assert end.received == [b"*IDN?\n"]
    assert end.procedures <= {CREATE_LINK, WRITE, READ, DESTROY_LINK}


def test_silence_is_no_failure_and_a_late_answer_comes_with_the_next_reading() -> None:
    end = Vxi11End(lambda question: b"8.25" if b"VOLT" in question else None, Mischief(1, 0.1))
    end.start()
    link = opened(end)
    clock = link.clock
    link.write(b"MEAS:CURR?\n", after(clock, 1.0))
    assert link.read(after(clock, 0.1)) == b""
    link.write(b"MEAS:VOLT?\n", after(clock, 1.0))
    assert link.read(after(clock, 1.0)) == b"8.25\n", "the end of a message is the end of a line"
    link.close()
    end.close()


def test_a_lost_connection_asks_for_a_reopening(end: Vxi11End) -> None:
    link = opened(end)
    clock = link.clock
    end.close()

    def ask() -> None:
        link.write(b"*IDN?\n", after(clock, 0.3))
        link.read(after(clock, 0.3))

    with pytest.raises(Reopen):
        ask()
    link.close()


def test_nobody_there_is_one_line_with_the_cure(end: Vxi11End) -> None:
    clock = SystemClock()
    end.close()
    link = VisaLink(end.place.removeprefix("visa:"), clock)
    with pytest.raises(PortMissing, match="nothing answers there"):
        link.open(after(clock, 2.0))


def driver_reads(address: str) -> tuple[float | None, float | None]:
    driver = open_driver(DriverSetUp(parse_address(address), SystemClock(), 0.5))
    try:
        assert "WORKSHOP" in driver.open().text
        reading = driver.read()
    finally:
        driver.close()
    return reading.volts, reading.amps


def test_a_supply_on_vxi_11_is_read(end: Vxi11End) -> None:
    assert driver_reads(end.place) == (8.25, 3.5)
    assert all(question.rstrip().endswith(b"?") for question in end.received)


def test_a_supply_of_the_simulator_is_read(tmp_path: Path) -> None:
    """PyVISA-sim 0.7: another backend, and resources of another kind."""
    file = tmp_path / "bench.yaml"
    file.write_text(
        textwrap.dedent("""
        spec: "1.1"
        devices:
          supply:
            eom:
              TCPIP INSTR:
                q: "\\n"
                r: "\\n"
              USB INSTR:
                q: "\\n"
                r: "\\n"
            dialogues:
              - {q: "*IDN?", r: "WORKSHOP,DC-12-10,A0001,1.0"}
              - {q: "MEAS:VOLT?", r: "8.25"}
              - {q: "MEAS:CURR?", r: "3.5"}
        resources:
          TCPIP::supply.local::INSTR: {device: supply}
          USB::0x1111::0x2222::A0001::INSTR: {device: supply}
        """)
    )
    for resource in ("TCPIP::supply.local::INSTR", "USB::0x1111::0x2222::A0001::INSTR"):
        assert driver_reads(f"visa:{resource}?library={file}@sim") == (8.25, 3.5)


@pytest.mark.parametrize(
    "address",
    ["visa:/dev/ttyUSB0", "visa:TCPIP", "visa:TCPIP::10.0.0.7::INSTR?baud=9600", "usbtmc:x?baud=1"],
)
def test_what_is_no_visa_name_is_refused(address: str) -> None:
    with pytest.raises(BadAddress):
        open_driver(DriverSetUp(parse_address(address), SystemClock()))


def test_without_the_extra_the_cure_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    with pytest.raises(BadAddress, match=r"pip install 'bathvigil\[visa\]'"):
        open_driver(DriverSetUp(parse_address("visa:TCPIP::10.0.0.7::INSTR"), SystemClock()))


@pytest.mark.skipif(sys.platform != "linux", reason="the device is Linux's own")
def test_a_usbtmc_device_that_is_not_there_is_told(tmp_path: Path) -> None:
    driver = open_driver(DriverSetUp(parse_address(f"usbtmc:{tmp_path}/usbtmc0"), SystemClock()))
    with pytest.raises(DriverError, match="no such port"):
        driver.open()
