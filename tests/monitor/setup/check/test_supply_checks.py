"""Each fault between settings and answer fails its own line, and no other."""

import fcntl
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import cast

import pytest

from drivers.base.clock import SystemClock
from drivers.driver import Driver
from drivers.link.ports import SerialPort
from drivers.link_standing import LinkStanding, link_standing
from drivers.promises import Fault
from monitor.model.event import Status
from monitor.setup.check import supply_checks
from monitor.setup.check.finding import Finding, Result
from monitor.setup.check.supply_checks import SupplyToCheck, check_supply, recorded_link
from monitor.store.reader import open_store
from tests.drivers.fake_end import PtyEnd, TcpEnd
from tests.drivers.fake_registers import DESCRIPTION, FakeRegisters
from tests.drivers.fake_supply import FakeSupply
from tests.drivers.spoiling import Piece
from tests.monitor.store.bench import a_run, a_store


@pytest.fixture
def supply() -> FakeSupply:
    return FakeSupply(volts="12.03", amps="5.01")


@pytest.fixture
def end(supply: FakeSupply, tmp_path: Path) -> Iterator[PtyEnd]:
    with PtyEnd(supply, tmp_path / "port") as made:
        made.options = "?quiet_ms=5&timeout=0.1"
        yield made


def check(address: str, poll_s: float | None = None, recorder: int | None = None) -> list[Finding]:
    supply = SupplyToCheck("bench-1", address, None, poll_s, 0.5, recorder)
    return list(check_supply(supply, SystemClock()))


def results(found: list[Finding]) -> dict[str, str]:
    return {finding.check: finding.result.value for finding in found}


def only_failure(found: list[Finding]) -> Finding:
    (one,) = [finding for finding in found if finding.result is Result.FAIL]
    assert found[-1] is one, "nothing is tried behind a failure"
    assert one.about == "bench-1"
    return one


def test_a_supply_in_order_passes_every_line(end: PtyEnd) -> None:
    found = check(end.address, poll_s=0.2)
    assert results(found) == dict.fromkeys(
        ("port", "permission", "lock", "reply", "link", "decode"), "pass"
    )
    assert "12.030 V, 5.010 A" in found[-1].words
    assert "readings a second" in found[3].words
    assert "WORKSHOP,DC-12-10" in found[3].words


def test_a_supply_on_the_network_has_no_permission_or_lock() -> None:
    with TcpEnd(FakeSupply()) as end:
        assert list(results(check(end.address))) == ["port", "reply", "link", "decode"]


@pytest.mark.parametrize(
    "address", ["scpi:/dev/null?baud=fast", "scpl:/dev/null", "scpi:/dev/null?buad=9600"]
)
def test_wrong_settings_fail_as_settings(address: str) -> None:
    assert only_failure(check(address)).check == "settings"


@pytest.mark.parametrize("name", ["none", "folder", "file"])
def test_what_is_no_port_fails_the_port(name: str, tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "file").touch()
    assert only_failure(check(f"scpi:{tmp_path / name}")).check == "port"


def test_an_adapter_that_is_not_plugged_in_fails_the_port() -> None:
    assert only_failure(check("scpi:usb:dead:beef")).check == "port"


def test_a_port_that_nothing_serves_fails_the_port() -> None:
    assert only_failure(check("scpi:tcp://127.0.0.1:1")).check == "port"


def test_a_forbidden_port_fails_the_permission(
    end: PtyEnd, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    failure = only_failure(check(end.address))
    assert failure.check == "permission"
    assert "group" in failure.words


def test_a_port_that_another_process_holds_fails_the_lock_and_names_it(end: PtyEnd) -> None:
    code = (
        "import fcntl, sys; f = open(sys.argv[1]); fcntl.flock(f, fcntl.LOCK_EX); "
        "print('held', flush=True); sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code, str(end.path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as thief:
        assert thief.stdout is not None
        assert thief.stdin is not None
        assert thief.stdout.readline() == "held\n"
        failure = only_failure(check(end.address))
        recorded = check(end.address, recorder=thief.pid)
        thief.stdin.close()
    assert failure.check == "lock"
    assert f"(process {thief.pid})" in failure.words
    assert recorded[-1].result is Result.NOTE, "our own recorder may hold it"
    assert "recorder" in recorded[-1].words


@pytest.mark.parametrize(
    ("fault", "line"), [(Fault.MUTE, "reply"), (Fault.PARTIAL, "decode"), (Fault.NOISE, "decode")]
)
def test_what_comes_or_not_fails_its_line(fault: Fault, line: str, end: PtyEnd) -> None:
    end.behave(fault)
    found = check(end.address)
    assert only_failure(found).check == line
    assert results(found)["lock"] == "pass"


def test_a_value_that_is_none_fails_the_decode(supply: FakeSupply, end: PtyEnd) -> None:
    supply.volts = "9.91E37"
    found = check(end.address)
    assert only_failure(found).check == "decode"
    assert results(found)["reply"] == "pass"
    assert "not a number" in found[-1].words


def test_a_supply_slower_than_its_polls_is_told_its_rate(supply: FakeSupply, end: PtyEnd) -> None:
    supply.delay_s = (0.05, 0.06)
    found = {str(finding.check): finding for finding in check(end.address, poll_s=0.05)}
    assert found["reply"].result is Result.NOTE
    assert "set poll_s = 0." in str(found["reply"].fix)
    assert found["decode"].result is Result.PASS


class Bus(FakeRegisters):
    """A unit on a wire that gives our own question back, as some RS-485 adapters do."""

    is_echoing = False

    def answer(self, frame: bytes) -> list[Piece]:
        echo = [Piece(0.0, frame)] if self.is_echoing else []
        return echo + super().answer(frame)


@pytest.fixture
def bus(tmp_path: Path) -> Iterator[tuple[Bus, str]]:
    description = tmp_path / "unit.toml"
    description.write_text(DESCRIPTION, encoding="utf-8")
    unit = Bus()
    with PtyEnd(unit, tmp_path / "bus") as end:
        yield unit, f"modbus:{end.path}?unit=1&parity=none&timeout=0.1&description={description}"


def links(found: list[Finding]) -> list[Finding]:
    return [finding for finding in found if finding.check == "link"]


def test_the_pace_and_the_count_of_answers_are_told(bus: tuple[Bus, str]) -> None:
    (told,) = links(check(bus[1]))
    assert told.result is Result.PASS
    assert told.words.startswith("replies take ")
    assert "22 of 22 questions answered, 0 late, 0 unreadable" in told.words


def test_our_own_questions_coming_back_are_told_once(bus: tuple[Bus, str]) -> None:
    bus[0].is_echoing = True
    count, echo = links(check(bus[1]))
    assert (count.result, echo.result) == (Result.PASS, Result.NOTE)
    assert echo.words.startswith("our own questions come back (an echo)")


def test_a_status_that_the_supply_refuses_is_told_with_its_reason(bus: tuple[Bus, str]) -> None:
    """Left out of the polls, so that good volts and amps stay good."""
    unit, address = bus
    description = Path(address.rpartition("=")[2])
    text = description.read_text(encoding="utf-8")
    text = text.replace("function = 3\naddress = 4", "function = 4\naddress = 4")
    description.write_text(text, encoding="utf-8")
    unit.refuses[4, 4, 1] = 2
    notes = [one for one in links(check(address)) if one.result is Result.NOTE]
    assert "status left out: " in notes[0].words
    assert "function 4" in notes[0].words


class OnceLate(FakeSupply):
    """Its fifth answer to a question for values comes after the time-out of 0.1 s."""

    def spoil(self, answer: bytes) -> list[Piece]:
        asked = [message for message in self.received if b"VOLT" in message]
        is_late = asked[4:] == self.received[-1:]
        self.delay_s = (0.15, 0.15) if is_late else (0.0, 0.0)
        return super().spoil(answer)


def test_late_answers_are_counted_with_their_cure(tmp_path: Path) -> None:
    with PtyEnd(OnceLate(), tmp_path / "port") as end:
        found = check(f"{end.address}?quiet_ms=5&timeout=0.1")
    (late,) = links(found)
    assert late.result is Result.NOTE
    assert "longer timeout_s" in str(late.fix)
    assert results(found)["decode"] == "pass"


def test_what_stood_in_the_error_queue_is_told(supply: FakeSupply, end: PtyEnd) -> None:
    """Not what our own trial questions put there: this supply knows no operation register."""
    supply.lacks = frozenset({"STAT:OPER:COND?"})
    supply.errors.append('-350,"Queue overflow"')
    notes = [one for one in links(check(end.address)) if one.result is Result.NOTE]
    assert [one.words for one in notes] == ["its error queue held -350, 'Queue overflow'"]


def test_of_a_port_that_the_recorder_holds_its_own_last_words_are_told(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    with a_store(path) as writer:
        run = a_run(writer)
        for seconds, text in enumerate(("link: fine", "LINK IS POOR: 9 of the last 40 late")):
            writer.write([(run, Status("link", seconds, text, None))])
    with open_store(path) as store:
        address = store.runs()[0].facts.address
    assert recorded_link(path, address) == "LINK IS POOR: 9 of the last 40 late"
    assert recorded_link(path, f"{address}0") is None
    assert recorded_link(tmp_path / "none.db", address) is None
    with a_store(path) as writer:
        writer.end_run(run, 10, "stopped")
    assert recorded_link(path, address) is None


def test_a_strangers_driver_that_tells_nothing_more_gets_no_line() -> None:
    assert link_standing(cast(Driver, object())) == LinkStanding()
    assert LinkStanding().words() == ""


def test_the_checks_leave_the_port_free(end: PtyEnd) -> None:
    check(end.address)
    with end.path.open() as port:
        fcntl.flock(port, fcntl.LOCK_EX | fcntl.LOCK_NB)


def test_no_more_questions_are_asked_than_needed(end: PtyEnd) -> None:
    check(end.address)
    measured = [message for message in end.received if b"VOLT" in message]
    assert len(measured) <= supply_checks.READINGS + 2


def test_a_name_that_the_next_adapter_may_get_is_a_note_with_a_better_one(
    end: PtyEnd, monkeypatch: pytest.MonkeyPatch
) -> None:
    stable = "/dev/serial/by-id/usb-A7-if00-port0"
    port = SerialPort(str(end.path), "ch341-uart", by_id=(stable,))
    monkeypatch.setattr(supply_checks, "serial_ports", lambda: (port,))
    found = check(end.address)
    assert results(found)["port"] == "note"
    assert stable in str(found[0].fix)
    assert results(found)["decode"] == "pass"


def test_root_is_told_that_locks_do_not_bind_it(
    end: PtyEnd, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    assert "better run it as another user" in check(end.address)[1].words
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    assert check(end.address)[1].words == "this user may open it"
