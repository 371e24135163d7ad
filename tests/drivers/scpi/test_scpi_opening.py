"""Opening a SCPI supply: who it is, its error queue, and why an opening failed."""

from pathlib import Path

import pytest

from drivers.errors import (
    BadDescription,
    DriverError,
    NoAnswer,
    Reopen,
    SupplySilent,
    SupplyUnreadable,
    WrongSupply,
)
from drivers.promises import Fault
from drivers.reading import Identity
from drivers.scpi.scpi_opening import ERROR_QUEUE_LIMIT
from tests.drivers.fake_supply import IDENTITY, FakeSupply
from tests.drivers.scpi_bench import OWN, Bench, opened
from tests.drivers.spoiling import Piece


@pytest.fixture
def bench() -> Bench:
    return opened()


def test_another_supply_at_the_same_port_is_refused(bench: Bench) -> None:
    bench.driver.close()
    bench.supply.identity = "WORKSHOP,DC-12-10,B0002,1.0"
    with pytest.raises(WrongSupply) as caught:
        bench.driver.open()
    assert "A0001" in str(caught.value)
    assert "B0002" in str(caught.value)
    assert bench.supply.given == [*bench.supply.given[:2]]
    with pytest.raises(Reopen, match="not open"):
        bench.driver.read()
    bench.supply.identity = IDENTITY
    assert bench.driver.open().serial == "A0001"


def test_another_supply_is_never_read_even_without_a_reopening(bench: Bench) -> None:
    """Its cable is put on the other supply between two polls."""
    bench.supply.fault = Fault.MUTE
    with pytest.raises(NoAnswer):
        bench.driver.read()
    before = len(bench.supply.given)
    bench.supply.fault, bench.supply.identity = Fault.NONE, "WORKSHOP,DC-12-10,B0002,1.0"
    for kind in (NoAnswer, NoAnswer, SupplySilent):
        with pytest.raises(kind):
            bench.driver.read()
    with pytest.raises(WrongSupply):
        bench.driver.open()
    assert len(bench.supply.given) == before


@pytest.mark.parametrize(("serial", "is_right"), [("A0001", True), ("A0002", False)])
def test_the_serial_number_of_the_settings_must_be_the_supplys(serial: str, is_right: bool) -> None:
    bench = Bench(FakeSupply(), serial=serial)
    if is_right:
        assert bench.driver.open().serial == serial
    else:
        with pytest.raises(WrongSupply, match="want serial number 'A0002'"):
            bench.driver.open()


@pytest.mark.parametrize(
    ("identity", "text", "serial"),
    [
        # IEEE 488.2-1992, 10.14 (from memory): four fields; "0" where there is no serial number.
        ("WORKSHOP,DC-12-10,0,0", "WORKSHOP,DC-12-10,0,0", None),
        ("WORKSHOP, DC-12-10, A0001, 1.0", "WORKSHOP, DC-12-10, A0001, 1.0", "A0001"),
        ("POWER SUPPLY", "POWER SUPPLY", None),
        ("a,b,c", "a,b,c", None),
        ("[PS-1] [/b]", "[PS-1] [/b]", None),
        ("\x1b]52;c;aGk=\x07,x,\x1b[2J,1", "<1B>]52;c;aGk=<07>,x,<1B>[2J,1", "<1B>[2J"),
        ("\xff\x80,x,y,z", "ÿ<80>,x,y,z", "y"),
        ("x" * 4000, "x" * 117 + "...", None),
    ],
)
def test_odd_identities_are_made_inert_and_used(
    identity: str, text: str, serial: str | None
) -> None:
    bench = Bench(FakeSupply(identity=identity))
    assert bench.driver.open() == Identity(text, serial)
    assert bench.driver.read().volts is not None


@pytest.mark.parametrize("identity", ["", "\0\0"])
def test_an_empty_identity_is_no_answer(identity: str) -> None:
    with pytest.raises(SupplySilent):
        Bench(FakeSupply(identity=identity)).driver.open()


def test_an_endless_identity_is_no_answer() -> None:
    with pytest.raises(Reopen):
        Bench(FakeSupply(identity="x" * 10_000)).driver.open()


@pytest.mark.parametrize("identity", ["12.5", "12.5;3.2", "0", "9.91E37"])
def test_an_identity_like_a_value_is_no_sentinel(identity: str) -> None:
    with pytest.raises(BadDescription, match=r"could be taken for the answer to .*\[sentinel\]"):
        Bench(FakeSupply(identity=identity)).driver.open()


def test_an_identity_that_changes_is_told() -> None:
    supply = FakeSupply()
    real = supply.one
    supply.one = lambda part: f"{len(supply.received)}, s" if "IDN" in part else real(part)  # type: ignore[method-assign]  # a counter
    with pytest.raises(SupplyUnreadable, match="another answer each time"):
        Bench(supply).driver.open()


def test_a_supply_without_an_identity_has_another_sentinel(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    text = OWN.format(name="sentinel", ask="OUTP?").replace("[volts]", "[volts]", 1)
    path.write_text(text, encoding="utf-8")
    bench = Bench(FakeSupply(identity="", output="ON"), str(path))
    assert bench.driver.open() == Identity("bench-1", None)
    assert bench.driver.read().volts is not None


def test_late_answers_of_an_earlier_program_are_not_taken_for_the_identity() -> None:
    bench = Bench(FakeSupply())
    bench.link.send(Piece(0.05, b"11.9;7.0\n"))
    bench.link.send(Piece(0.15, b"11.9;7.1\n"))
    assert bench.driver.open().serial == "A0001"


def test_an_error_queue_is_emptied_at_opening() -> None:
    bench = Bench(FakeSupply())
    bench.supply.errors.extend(['-113,"Undefined header"', '-350,"Queue overflow"'])
    bench.driver.open()
    assert [error.code for error in bench.driver.opening_errors] == [-113, -350]
    assert not bench.supply.errors


@pytest.mark.parametrize("is_repeating", [True, False])
def test_an_endless_error_queue_ends_the_opening_all_the_same(is_repeating: bool) -> None:
    supply = FakeSupply()
    real = supply.one

    def one(part: str) -> str | None:
        if part != "SYST:ERR?":
            return real(part)
        return '-300,"Device error"' if is_repeating else f'-300,"{len(supply.received)}"'

    supply.one = one  # type: ignore[method-assign]  # never empty
    bench = Bench(supply)
    bench.driver.open()
    asked = supply.received.count(b"SYST:ERR?")
    assert asked == (2 if is_repeating else ERROR_QUEUE_LIMIT)


def test_a_supply_without_an_error_queue_is_not_asked_for_it_again() -> None:
    bench = Bench(FakeSupply(lacks=frozenset({"SYST:ERR?"})))
    bench.driver.open()
    bench.supply.received.clear()
    bench.driver.close()
    bench.driver.open()
    assert bench.supply.received == [b"*IDN?"]


@pytest.mark.parametrize(
    ("fault", "kind"),
    [
        (Fault.MUTE, SupplySilent),
        (Fault.PARTIAL, SupplyUnreadable),
        (Fault.LATE, SupplySilent),
        (Fault.NOISE, Reopen),
    ],
)
def test_a_failed_opening_says_why_within_its_deadline(
    fault: Fault, kind: type[DriverError]
) -> None:
    bench = Bench(FakeSupply(fault=fault, late_s=0.15))
    began_ns = bench.clock.now_ns
    with pytest.raises(kind) as caught:
        bench.driver.open()
    assert "bench-1" in str(caught.value)
    assert bench.took_s(began_ns) <= bench.driver.deadline_s
    assert not bench.link.is_open


@pytest.mark.parametrize("fault", [Fault.MUTE, Fault.PARTIAL, Fault.LATE, Fault.NOISE, Fault.DRIP])
@pytest.mark.parametrize("joins", [True, False])
def test_no_call_takes_longer_than_the_deadline(fault: Fault, joins: bool) -> None:
    bench = Bench(FakeSupply(joins=joins, late_s=0.15))
    bench.driver.open()
    bench.supply.fault = fault
    if fault is Fault.DRIP:
        for number in range(5000):
            bench.link.send(Piece(number * 0.05, b"1"))
    for _ in range(12):
        for step in (bench.driver.read, bench.driver.open):
            began_ns = bench.clock.now_ns
            with pytest.raises(DriverError):
                step()
            assert bench.took_s(began_ns) <= bench.driver.deadline_s


def test_a_driver_that_is_not_open_says_so(bench: Bench) -> None:
    bench.driver.close()
    bench.driver.close()
    with pytest.raises(Reopen, match="not open"):
        bench.driver.read()
