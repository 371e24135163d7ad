"""The SCPI driver in conversation; the exchanges are typed from IEEE 488.2 and SCPI-1999.

Bits: SCPI-1999 volume 1, 9: QUEStionable 0 VOLTage, 1 CURRent, 4 TEMPerature, 9 to 12 the maker's;
OPERation 8 to 12 the maker's (8 constant voltage, 10 constant current: common practice, no source).
"""

from pathlib import Path

import pytest

from drivers.errors import (
    GarbledAnswer,
    SupplyRefused,
)
from drivers.reading import Identity, Mode
from tests.drivers.fake_supply import IDENTITY, FakeSupply
from tests.drivers.scpi_bench import OWN, STATUS, TOGETHER, Bench, opened
from tests.drivers.spoiling import Piece


@pytest.fixture
def bench() -> Bench:
    return opened()


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
        b"*IDN?",  # the order is proven before either is used
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
