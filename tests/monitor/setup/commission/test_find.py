"""`find` lists without opening, and asks only where it is told to."""

import json
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from drivers.link.ports import list_serial_ports
from drivers.link.serial_link import SerialLink
from drivers.promises import Fault
from monitor.commands import find
from monitor.commands.find import report_port
from monitor.commands.main import run
from tests.drivers.fake_end import PtyEnd
from tests.drivers.fake_supply import FakeSupply
from tests.drivers.fake_tree import FakeTree
from tests.drivers.link.test_port_holders import process
from tests.monitor.setup.commission.ends import RegisterSupply


@pytest.fixture
def tree(tmp_path: Path) -> FakeTree:
    return FakeTree(tmp_path / "machine")


@pytest.fixture
def _here(tree: FakeTree, monkeypatch: pytest.MonkeyPatch) -> None:
    """The machine of the tree, and no way to open anything."""
    monkeypatch.setattr(find, "serial_ports", lambda: list_serial_ports(tree.root))
    monkeypatch.setattr(
        find, "report_port", lambda port: report_port(port, tree.root, tree.root / "proc")
    )

    def refuse(*_: object) -> None:
        raise AssertionError("a port was opened")

    monkeypatch.setattr(SerialLink, "open", refuse)


def plug(tree: FakeTree, name: str, **more: str) -> None:
    tree.plug_in(name, **more)  # type: ignore[arg-type]  # only texts are given here
    (tree.root / "dev" / name).touch()


@pytest.mark.usefixtures("_here")
def test_ports_are_told_with_names_holders_and_twins(
    tree: FakeTree, capsys: pytest.CaptureFixture[str]
) -> None:
    plug(tree, "ttyUSB0", socket="1-1")
    plug(tree, "ttyUSB1", socket="1-2")
    plug(tree, "ttyUSB2", socket="1-3", serial="A7")
    process(tree.root / "proc", 812, "ModemManager", tree.root / "dev/ttyUSB2")
    assert run(["find"]) == 0
    told = capsys.readouterr().out
    assert "/dev/ttyUSB0  USB Serial, usb:1a86:7523:0, driver ch341-uart" in told
    assert "name it /dev/serial/by-path/pci-0-usb-0:1-1:1.0-port0: this name stays" in told
    assert "/dev/ttyUSB1 looks the same: only the by-path name tells them apart" in told
    assert "serial number A7" in told
    assert "held by ModemManager (process 812): it tries every new serial port" in told
    assert "drivers: " in told


@pytest.mark.usefixtures("_here")
def test_the_same_as_json(tree: FakeTree, capsys: pytest.CaptureFixture[str]) -> None:
    plug(tree, "ttyUSB0", serial="A7")
    assert run(["find", "--json"]) == 0
    port, *drivers = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert port["device"] == "/dev/ttyUSB0"
    assert port["use"] == "/dev/serial/by-id/usb-1a86_USB_Serial_A7-if00-port0"
    assert (port["usb"], port["serial"], port["driver"]) == ("usb:1a86:7523:0", "A7", "ch341-uart")
    assert port["may_open"] is True
    assert "scpi" in [line["driver"] for line in drivers]


@pytest.mark.usefixtures("_here")
def test_a_port_that_this_user_may_not_open_is_told_with_the_cure(
    tree: FakeTree, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    plug(tree, "ttyUSB0")
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    assert run(["find"]) == 0
    assert "the system does not let this user open the port" in capsys.readouterr().out


@pytest.fixture
def supply() -> FakeSupply:
    return FakeSupply()


@pytest.fixture
def end(supply: FakeSupply, tmp_path: Path) -> Iterator[PtyEnd]:
    with PtyEnd(supply, tmp_path / "port") as made:
        yield made


def test_asking_names_the_supply_and_sends_only_idn(
    end: PtyEnd, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["find", "--ask", str(end.path), "--timeout-s", "0.2", "--json"]) == 0
    line = json.loads(capsys.readouterr().out)
    assert line["identity"] == "WORKSHOP,DC-12-10,A0001,1.0"
    assert (line["question_ends_with"], line["answer_ends_with"]) == ("LF", "LF")
    assert set(end.received) == {b"*IDN?"}


def test_asking_units_finds_those_that_answer(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    supply = RegisterSupply(unit=3, inputs={0: 1})
    with PtyEnd(supply, tmp_path / "port") as end:
        line = ["find", "--ask", str(end.path), "--units", "2-4", "--timeout-s", "0.05"]
        assert run(line) == 0
    told = capsys.readouterr().out
    assert "Modbus address 3 answers (01" not in told
    assert "Modbus address 3 answers" in told, "a refusal is an answer, too"
    assert "unit 2" not in told
    assert {(frame[0], frame[1]) for frame in supply.received} == {
        (unit, function) for unit in (2, 3, 4) for function in (3, 4)
    }


def test_one_that_speaks_by_itself_is_told_and_not_asked(
    end: PtyEnd, capsys: pytest.CaptureFixture[str]
) -> None:
    over = threading.Event()

    def speak() -> None:
        while not over.wait(0.05):
            end.say(b"12.0V,3.20A\r\n")

    speaker = threading.Thread(target=speak)
    speaker.start()
    try:
        assert run(["find", "--ask", str(end.path), "--timeout-s", "0.2"]) == 0
        told = capsys.readouterr().out
        assert run(["find", "--ask", str(end.path), "--timeout-s", "0.2", "--json"]) == 0
        line = json.loads(capsys.readouterr().out)
    finally:
        over.set()
        speaker.join()
    assert "it speaks unasked; next: bathvigil commission 'lines:" in told
    assert (line["speaks"], line["line"]) == ("unasked", "12.0V,3.20A")
    assert end.received == []


def test_one_late_answer_of_another_programs_question_is_no_speaking_by_itself(
    end: PtyEnd, capsys: pytest.CaptureFixture[str]
) -> None:
    late = threading.Timer(0.1, end.say, [b"12.5\n"])
    late.start()
    assert run(["find", "--ask", str(end.path), "--timeout-s", "0.2", "--json"]) == 0
    late.join()
    assert json.loads(capsys.readouterr().out)["speaks"] == "scpi"


def test_nobody_there_is_an_exit_code(end: PtyEnd, capsys: pytest.CaptureFixture[str]) -> None:
    end.behave(Fault.MUTE)
    assert run(["find", "--ask", str(end.path), "--timeout-s", "0.05"]) == 1
    told = capsys.readouterr().err
    assert "no bytes at all came" in told
    assert "It may speak Modbus" in told


def test_one_without_a_name_is_asked_for_its_values(
    supply: FakeSupply, end: PtyEnd, capsys: pytest.CaptureFixture[str]
) -> None:
    supply.identity = ""
    assert run(["find", "--ask", str(end.path), "--timeout-s", "0.05"]) == 0
    told = capsys.readouterr().out
    assert "asked MEAS:VOLT?, it answers" in told
    assert f"next: bathvigil commission 'lines:{end.path}' --to mine.toml" in told


def test_noise_is_told_with_the_cure(end: PtyEnd, capsys: pytest.CaptureFixture[str]) -> None:
    end.behave(Fault.NOISE)
    assert run(["find", "--ask", str(end.path), "--timeout-s", "0.05"]) == 1
    assert "bytes came, but not for us" in capsys.readouterr().err


@pytest.mark.parametrize(
    "line", [["--units", "1-5"], ["--ask", "/dev/null", "--units", "0-300"], ["--ask", ""]]
)
def test_wrong_use_is_told(line: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["find", *line]) == 2
    assert capsys.readouterr().err


def test_listing_opens_no_terminal_at_all(tmp_path: Path) -> None:
    """Python's own audit events tell of every file that is opened."""
    code = (
        "import sys; opened = []\n"
        "sys.addaudithook(lambda event, told: event == 'open' and opened.append(str(told[0])))\n"
        "from monitor.commands.main import run\n"
        "assert run(['find']) == 0\n"
        "assert opened, 'the hook hears'\n"
        "assert not [name for name in opened if name.startswith('/dev/')], opened\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
