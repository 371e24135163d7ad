"""The SCPI driver in conversation; the exchanges are typed from IEEE 488.2 and SCPI-1999.

Bits: SCPI-1999 volume 1, 9: QUEStionable 0 VOLTage, 1 CURRent, 4 TEMPerature, 9 to 12 the maker's;
OPERation 8 to 12 the maker's (8 constant voltage, 10 constant current: common practice, no source).
"""

from pathlib import Path

import pytest

from drivers.conversation import Conversation
from drivers.errors import (
    BadDescription,
    DriverError,
    GarbledAnswer,
    NoAnswer,
    Reopen,
    SupplyRefused,
    SupplySilent,
    SupplyUnreadable,
    WrongSupply,
)
from drivers.promises import Fault
from drivers.questions import AskingLink
from drivers.reading import Identity, Mode
from drivers.scpi import ScpiDriver
from drivers.scpi_description import load_scpi_description
from drivers.scpi_ends import all_questions
from drivers.scpi_opening import ERROR_QUEUE_LIMIT
from tests.drivers.fake_link import FakeLink, HandClock
from tests.drivers.fake_supply import IDENTITY, FakeSupply, Piece

TIMEOUT_S = 0.1
TOGETHER = b"MEAS:VOLT?;:MEAS:CURR?"
STATUS = b"STAT:QUES:COND?;:STAT:OPER:COND?;:OUTP?"
OWN = """
format = 1
kind = "scpi"
title = "bench-1"
source = "its manual"
[ratings]
volts = 12.0
amps = 10.0
[{name}]
ask = "{ask}"
source = "page 2"
[volts]
ask = "MEAS:VOLT?"
source = "page 3"
[amps]
ask = "MEAS:CURR?"
source = "page 3"
"""


class Bench:
    """A driver and the supply at its other end."""

    def __init__(
        self,
        supply: FakeSupply,
        description: str = "scpi-dc-supply",
        serial: str | None = None,
    ) -> None:
        self.supply = supply
        self.clock = HandClock()
        self.link = FakeLink(supply, self.clock)
        read = load_scpi_description(description)
        asking = AskingLink(self.link, all_questions(read))
        talk = Conversation(asking, self.clock, TIMEOUT_S, 0.02, "bench-1")
        self.driver = ScpiDriver(talk, read, serial)

    def took_s(self, began_ns: int) -> float:
        return (self.clock.now_ns - began_ns) / 1e9


@pytest.fixture
def bench() -> Bench:
    made = Bench(FakeSupply())
    made.driver.open()
    made.supply.received.clear()
    return made


@pytest.fixture
def rated(tmp_path: Path) -> str:
    path = tmp_path / "own.toml"
    path.write_text(OWN.format(name="identity", ask="*IDN?"), encoding="utf-8")
    return str(path)


def test_the_first_opening_asks_who_and_tries_each_question_once() -> None:
    bench = Bench(FakeSupply())
    assert bench.driver.open() == Identity(IDENTITY, "A0001")
    assert bench.supply.received == [
        b"*IDN?",  # whether it hears questions that end so
        b"*IDN?",
        b"*IDN?",
        b"STAT:QUES:COND?",
        b"STAT:OPER:COND?",
        b"OUTP?",
        TOGETHER,
        STATUS,
        b"SYST:ERR?",
    ]


def test_a_further_opening_asks_only_who_and_for_errors(bench: Bench) -> None:
    bench.driver.close()
    bench.driver.open()
    assert bench.supply.received == [b"*IDN?", b"SYST:ERR?"]


def test_volts_and_amps_come_in_one_answer(bench: Bench) -> None:
    bench.supply.volts, bench.supply.amps = "+1.18500E+01", "+7.32000E+00"
    reading = bench.driver.read()
    assert (reading.volts, reading.amps, reading.celsius) == (11.85, 7.32, None)
    assert (reading.mode, reading.apart_s, reading.doubt) == (Mode.CONSTANT_VOLTAGE, 0.0, None)
    assert bench.supply.received == [TOGETHER, STATUS]


def test_the_status_is_asked_once_a_second_and_not_at_each_poll(bench: Bench) -> None:
    for _ in range(100):
        bench.driver.read()
        bench.clock.wait(0.05)
    assert bench.supply.received.count(TOGETHER) == 100
    assert 5 <= bench.supply.received.count(STATUS) <= 6


def test_a_supply_that_takes_one_question_at_a_time_is_asked_so() -> None:
    bench = Bench(FakeSupply(joins=False, delay_s=(0.03, 0.03)))
    bench.driver.open()
    assert [error.code for error in bench.driver.opening_errors] == [-113]  # our trial question
    bench.supply.received.clear()
    reading = bench.driver.read()
    assert reading.apart_s == pytest.approx(0.03)
    assert (reading.volts, reading.amps) == (6.001, 2000.002)
    assert reading.mode is Mode.CONSTANT_VOLTAGE
    assert bench.supply.received == [
        b"MEAS:VOLT?",
        b"MEAS:CURR?",
        b"STAT:QUES:COND?",
        b"STAT:OPER:COND?",
        b"OUTP?",
    ]


def test_a_status_that_is_not_answered_is_not_asked_again() -> None:
    lacks = frozenset({"STAT:QUES:COND?", "STAT:OPER:COND?", "OUTP?"})
    bench = Bench(FakeSupply(lacks=lacks))
    bench.driver.open()
    bench.supply.received.clear()
    for _ in range(5):
        assert bench.driver.read().mode is Mode.UNKNOWN
        bench.clock.wait(2.0)
    bench.driver.close()
    bench.driver.open()
    assert set(bench.supply.received) == {TOGETHER, b"*IDN?", b"SYST:ERR?"}


def test_a_register_that_is_not_answered_is_left_out() -> None:
    bench = Bench(FakeSupply(lacks=frozenset({"STAT:OPER:COND?"})))
    bench.driver.open()
    bench.supply.received.clear()
    bench.driver.read()
    assert bench.supply.received == [TOGETHER, b"STAT:QUES:COND?;:OUTP?"]


LIVE, DEAD = ("11.8", "7.3"), ("1.9", "0.0")


@pytest.mark.parametrize(
    ("values", "questionable", "operation", "output", "mode"),
    [
        (LIVE, 0, 1 << 8, "1", Mode.CONSTANT_VOLTAGE),
        (LIVE, 0, 1 << 10, "1", Mode.CONSTANT_CURRENT),
        (LIVE, 1 << 0, 0, "1", Mode.CONSTANT_CURRENT),
        (LIVE, 0, 0, "1", Mode.UNKNOWN),
        (DEAD, 1 << 1, 0, "1", Mode.CUT_OUT),
        (DEAD, 1 << 1, 0, "0", Mode.CUT_OUT),
        (DEAD, 1 << 0, 0, "0", Mode.CUT_OUT),
        (DEAD, 1 << 4, 0, "0", Mode.CUT_OUT),
        (DEAD, 0, 0, "0", Mode.OUTPUT_OFF),
        # The amps knob is turned down to nothing: no limit that anybody runs into.
        (DEAD, 0, 1 << 10, "1", Mode.UNKNOWN),
        # A supply whose bit 1 says "constant voltage" has not cut out: its output lives.
        (LIVE, 1 << 1, 0, "1", Mode.UNKNOWN),
        # A swab lifted off: no amps, but the volts stand.
        (("11.8", "0.0"), 1 << 1, 1 << 8, "1", Mode.CONSTANT_VOLTAGE),
        # Bits of other meanings say nothing about the mode.
        (LIVE, 1 << 3 | 1 << 14, 1 << 4, "1", Mode.UNKNOWN),
    ],
)
def test_status_bits_become_a_mode(
    values: tuple[str, str], questionable: int, operation: int, output: str, mode: Mode
) -> None:
    supply = FakeSupply(questionable=questionable, operation=operation, output=output)
    supply.volts, supply.amps = values
    bench = Bench(supply)
    bench.driver.open()
    assert bench.driver.read().mode is mode


def test_a_cut_out_is_seen_at_the_poll_at_which_the_output_dies(bench: Bench) -> None:
    supply = bench.supply
    supply.volts, supply.amps = LIVE
    assert bench.driver.read().mode is Mode.CONSTANT_VOLTAGE
    bench.clock.wait(0.1)
    supply.volts, supply.amps, supply.questionable, supply.operation = *DEAD, 1 << 1, 0
    assert bench.driver.read().mode is Mode.CUT_OUT
    bench.clock.wait(0.1)
    supply.volts, supply.amps, supply.questionable, supply.operation = *LIVE, 0, 1 << 8
    assert bench.driver.read().mode is Mode.CONSTANT_VOLTAGE


def test_a_status_that_fails_once_costs_no_reading(bench: Bench) -> None:
    real = bench.supply.one
    bench.supply.one = lambda part: "?" if "STAT" in part else real(part)  # type: ignore[method-assign]  # garbles the status alone
    reading = bench.driver.read()
    assert (reading.volts, reading.mode) == (6.003, Mode.UNKNOWN)
    bench.supply.one = real  # type: ignore[method-assign]  # healed
    bench.clock.wait(3.0)
    assert bench.driver.read().mode is Mode.CONSTANT_VOLTAGE


@pytest.mark.parametrize(
    ("volts", "amps", "read_volts", "read_amps", "doubt"),
    [
        # SCPI-1999 volume 1, 7.2.1 (clause from memory): NAN 9.91E37, INF 9.9E37.
        ("9.91E37", "3.2", None, 3.2, "volts: not a number (9.91E37)"),
        ("11.5", "+9.9E+37", 11.5, None, "amps: infinite (9.9E37)"),
        ("NAN", "-9.9E37", None, None, "volts: not a number (NAN); amps: infinite (9.9E37)"),
        ("12.0", "10.0", 12.0, 10.0, None),
        ("14.4", "12.0", 14.4, 12.0, None),
        ("14.5", "3.0", 14.5, 3.0, "volts out of range (14.5, rated 12)"),
        ("11.5", "12.1", 11.5, 12.1, "amps out of range (12.1, rated 10)"),
        ("11.5", "-0.05", 11.5, -0.05, None),
        ("11.5", "-0.5", 11.5, -0.5, "amps out of range (-0.5, rated 10)"),
        ("65535", "3.0", 65535.0, 3.0, "volts out of range (65535, rated 12)"),
    ],
)
def test_impossible_values_are_kept_and_doubted(
    volts: str,
    amps: str,
    read_volts: float | None,
    read_amps: float | None,
    doubt: str | None,
    rated: str,
) -> None:
    bench = Bench(FakeSupply(volts=volts, amps=amps), rated)
    bench.driver.open()
    reading = bench.driver.read()
    assert (reading.volts, reading.amps, reading.doubt) == (read_volts, read_amps, doubt)


def test_without_a_rating_only_what_is_negative_is_doubted() -> None:
    bench = Bench(FakeSupply(volts="400.0", amps="-3.0"))
    bench.driver.open()
    assert bench.driver.read().doubt == "amps out of range (-3)"


@pytest.mark.parametrize("text", ["12,5;3,2", "12.5", "12.5;3.2;1.0", "12.5 3.2", ";", "12.5V;x"])
def test_an_answer_of_another_form_is_no_reading(bench: Bench, text: str) -> None:
    bench.supply.spoil = lambda answer: [Piece(0.0, f"{text}\n".encode())]  # type: ignore[method-assign]  # another form
    with pytest.raises(GarbledAnswer):
        bench.driver.read()


def test_an_error_instead_of_values_is_told_as_the_supplys(bench: Bench) -> None:
    bench.supply.spoil = lambda answer: [Piece(0.0, b'-222,"Data out of range"\n')]  # type: ignore[method-assign]  # an error
    with pytest.raises(SupplyRefused, match="error -222"):
        bench.driver.read()


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
