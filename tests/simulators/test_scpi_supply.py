"""The command set of a DC supply: every question, what it is told to do, and the record of both.

Standards: IEEE 488.2-1992 and SCPI-1999, clauses from memory.
"""

import re
from dataclasses import replace

import pytest

from simulators.rig import Rig
from simulators.scene import Event, load_scene
from simulators.scpi_end import ScpiEnd
from simulators.scpi_supply import ScpiSupply
from tests.simulators.scpi_hand import Link

TANK = load_scene("tank-warms-to-trip")
SWAB = load_scene("swab-warms-to-trip")


@pytest.mark.parametrize(
    ("question", "answer"),
    [
        ("*IDN?", "BATHVIGIL SIM,DC-12-40,SIM0001,1.0"),
        ("SYST:VERS?", "1999.0"),
        ("system:version?", "1999.0"),
        ("SYST:ERR?", '0,"No error"'),
        ("SYSTem:ERRor:NEXT?", '0,"No error"'),
        ("SYST:ERR:COUN?", "0"),
        ("OUTP?", "1"),
        ("OUTPut:STATe?", "1"),
        ("VOLT?", "9.000"),
        ("SOUR:VOLT:LEV:IMM:AMPL?", "9.000"),
        (":SOURce:VOLTage?", "9.000"),
        ("VOLT? MAX", "12.000"),
        ("VOLT? MIN", "0.000"),
        ("CURR?", "40.00"),
        ("CURR:PROT?", "40.00"),
        ("CURR:PROT:TRIP?", "0"),
        ("CURR:PROT:STAT?", "1"),
        ("VOLT:PROT?", "13.200"),
        ("VOLT:PROT:TRIP?", "0"),
        ("STAT:QUES:COND?", "0"),
        ("STAT:QUES?", "0"),
        ("STAT:OPER:COND?", "256"),
        ("STAT:OPER?", "256"),
        ("*OPC?", "1"),
        ("*TST?", "0"),
        ("*STB?", "0"),
        ("*ESR?", "128"),
    ],
)
def test_every_question_has_its_answer(question: str, answer: str) -> None:
    link = Link()
    assert link.say(question) == answer
    assert link.errors() == []


def test_the_identity_has_four_fields_as_ieee_488_2_wants() -> None:
    answer = Link().say("*IDN?")
    assert answer is not None
    assert len(answer.split(",")) == 4


@pytest.mark.parametrize("question", ["MEAS:VOLT?", "meas:scal:volt:dc?", ":MEASure:VOLTage?"])
def test_measured_volts_are_those_of_the_rig(question: str) -> None:
    link = Link()
    assert link.say(question) == f"{link.rig.measured().volts:.3f}"


def test_measured_amps_watts_and_celsius_are_those_of_the_rig() -> None:
    link = Link()
    assert link.say("MEAS:CURR?") == f"{link.rig.measured().amps:.2f}"
    watts = link.rig.measured().volts * link.rig.measured().amps
    assert link.say("MEAS:POW?") == f"{watts:.2f}"
    assert link.say("MEAS:TEMP?") == f"{link.rig.measured().celsius:.1f}"


def test_without_a_probe_there_is_no_temperature_to_ask_for() -> None:
    link = Link("swab-warms-to-trip")
    assert link.say("MEAS:TEMP?") is None
    assert link.errors() == [-113]


def test_time_goes_on_with_the_question() -> None:
    link = Link(t_s=0.0)
    assert link.say("OUTP?") == "0"
    link.t_s = 30.0
    assert link.say("OUTP?") == "1"


def test_it_does_what_it_is_told_as_a_real_supply_would() -> None:
    link = Link()
    link.say("VOLT 6.5V;:CURR 30")
    link.t_s = 70.0
    assert link.say("VOLT?;CURR?") == "6.500;30.00"
    assert link.rig.truth().volts == pytest.approx(6.5)
    link.say("OUTP OFF")
    link.t_s = 71.0
    assert link.rig.truth().amps == 0.0
    assert link.say("OUTP?;:VOLT:PROT 10;PROT?") == "0;10.000"
    link.say("*RST")
    assert link.say("OUTP?;:VOLT?;:CURR?;:VOLT:PROT?") == "0;0.000;40.00;13.200"
    assert link.errors() == []


def test_errors_show_in_the_status_byte_and_the_rest_is_taken_without_a_word() -> None:
    # IEEE 488.2, 11.2 and SCPI-1999 vol. 2, 21.8: bit 2 of the status byte says that errors wait.
    link = Link()
    assert link.say("*STB?") == "0"
    link.say("BOGUS")
    assert link.say("*STB?") == "4"
    link.say("*OPC;*WAI;:SYST:REM;LOC")
    assert link.errors() == [-113]
    assert link.say("*ESR?") == str(128 + 32 + 1)


def test_an_over_current_cut_out_shows_in_the_questionable_register() -> None:
    # SCPI-1999 vol. 1 ch. 9: QUEStionable bit 1 CURRent, bit 4 TEMPerature.
    link = Link("sudden-short", t_s=260.0)
    assert link.say("STAT:QUES:COND?;:OUTP?;:CURR:PROT:TRIP?") == "2;0;1"
    assert link.say("STAT:OPER:COND?") == "0"
    link.say("OUTP ON")
    assert link.errors() == [-221]
    link.say("OUTP:PROT:CLE")
    assert link.errors() == [-221]  # not yet cooled down
    link.t_s = 280.0
    link.say("OUTP:PROT:CLE;:OUTP ON")
    assert link.errors() == []
    assert link.say("STAT:QUES:COND?;:OUTP?") == "0;1"
    assert link.say("STAT:QUES?") == "2"  # the event is kept, and taken by reading it
    assert link.say("STAT:QUES?") == "0"


def test_a_thermal_cut_out_has_its_own_bit() -> None:
    assert Link("supply-overheats", t_s=530.0).say("STAT:QUES:COND?") == "16"


def test_a_supply_that_limits_says_so_in_the_operation_register() -> None:
    link = Link("supply-limits", t_s=100.0)
    assert link.say("STAT:OPER:COND?;:CURR:PROT:STAT?") == "256;0"
    link.t_s = 600.0
    assert link.say("STAT:OPER:COND?;:STAT:QUES:COND?") == "1024;0"
    assert link.say("STAT:OPER?") == str(256 + 1024)


def test_everything_that_came_is_kept_with_its_answer_and_the_truth() -> None:
    link = Link()
    link.say("MEAS:CURR?")
    link.say("VOLT 8;VOLT?")
    link.end.feed(b"\xffhello\n", 60.0)
    asked, told, rubbish = link.end.exchanges()
    assert (asked.question, asked.commands) == ("MEAS:CURR?", ())
    assert asked.answer == f"{link.rig.measured().amps:.2f}"
    assert asked.truth.amps == pytest.approx(float(asked.answer), rel=0.01)
    assert (told.answer, told.commands) == ("8.000", ("VOLT 8",))
    assert (rubbish.question, rubbish.answer) == ("\\xffhello", None)
    assert link.end.exchanges() == []


def test_two_links_share_one_supply_and_its_error_queue() -> None:
    rig = Rig(replace(TANK, events=(Event("output-on", at_s=0.0),)))
    instrument = ScpiSupply(rig, rig.scene.supply.identity(1))
    one, other = ScpiEnd(instrument), ScpiEnd(instrument)
    one.feed(b"VOLT 5\nBOGUS\nMEAS:", 1.0)
    other.feed(b"VOLT?;:SYST:ERR?\n", 2.0)
    assert other.take() == b'5.000;-113,"Undefined header"\n'
    one.feed(b"VOLT?\n", 3.0)
    assert one.take().startswith(b"5.0")


def test_the_resolution_of_the_answer_is_the_meters() -> None:
    rig = Rig(SWAB)
    end = ScpiEnd(ScpiSupply(rig, rig.scene.supply.identity(12)))
    end.feed(b"MEAS:VOLT?;CURR?;:*IDN?\n", 30.0)
    volts, amps, *_ = end.take().split(b";")
    assert re.fullmatch(rb"\d\.\d{3}", volts)
    assert re.fullmatch(rb"\d\.\d{3}", amps)
