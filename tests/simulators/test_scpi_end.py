"""The supply's end of a SCPI link: each numbered rule, however the bytes are cut.

Standards: IEEE 488.2-1992 and SCPI-1999, clauses from memory.
"""

import itertools
import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulators.rig import Rig
from simulators.scene import Event, load_scene
from simulators.scpi_end import ScpiEnd, identity
from simulators.scpi_supply import ScpiSupply

TANK = load_scene("tank-warms-to-trip")
SWAB = load_scene("swab-loads-up")
NR2 = re.compile(rb"\d+\.\d{2,3}")


class Link:
    """A supply with one end, and a hand to type with."""

    def __init__(self, scene: str = "tank-warms-to-trip", t_s: float = 60.0) -> None:
        self.rig = Rig(load_scene(scene))
        self.end = ScpiEnd(ScpiSupply(self.rig, identity(self.rig, 1)))
        self.t_s = t_s

    def say(self, message: str) -> str | None:
        """Send one message; the answer without its end, None for none."""
        self.end.feed(message.encode() + b"\n", self.t_s)
        answer = self.end.take()
        if not answer:
            return None
        assert answer.endswith(b"\n")
        assert answer.count(b"\n") == 1
        return answer[:-1].decode("ascii")

    def errors(self) -> list[int]:
        """Empty the error queue; the numbers."""
        numbers = []
        while (error := self.say("SYST:ERR?")) != '0,"No error"':
            assert error is not None
            numbers.append(int(error.split(",")[0]))
        return numbers


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
        ("STAT:QUES:ENAB?", "0"),
        ("STAT:OPER:COND?", "256"),
        ("STAT:OPER?", "256"),
        ("STAT:OPER:ENAB?", "0"),
        ("*OPC?", "1"),
        ("*TST?", "0"),
        ("*STB?", "0"),
        ("*ESR?", "128"),
        ("*ESE?", "0"),
        ("*SRE?", "0"),
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
    link = Link("swab-loads-up")
    assert link.say("MEAS:TEMP?") is None
    assert link.errors() == [-113]


def test_time_goes_on_with_the_question() -> None:
    link = Link(t_s=0.0)
    assert link.say("OUTP?") == "0"
    link.t_s = 30.0
    assert link.say("OUTP?") == "1"


# Rule 1


@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r", b"\n\r", b"  \t\r\n"])
def test_rule_1_a_message_ends_with_a_line_feed_or_a_carriage_return(end: bytes) -> None:
    link = Link()
    link.end.feed(b"VOLT?" + end + end, 60.0)
    assert link.end.take() == b"9.000\n"
    assert len(link.end.exchanges()) == 1


def test_rule_1_nothing_is_answered_before_the_end_of_a_message() -> None:
    link = Link()
    link.end.feed(b"VOLT?", 60.0)
    assert (link.end.take(), link.end.exchanges()) == (b"", [])


# Rule 2


def test_rule_2_answers_are_joined_as_the_questions_were() -> None:
    answer = Link().say("MEAS:VOLT?;:MEAS:CURR?;*IDN?;:OUTP?")
    assert answer is not None
    volts, amps, name, output = answer.split(";")
    assert NR2.fullmatch(volts.encode())
    assert NR2.fullmatch(amps.encode())
    assert (name.count(","), output) == (3, "1")


def test_rule_2_the_answers_end_as_the_end_was_made_to() -> None:
    rig = Rig(TANK)
    end = ScpiEnd(ScpiSupply(rig, identity(rig, 1)), terminator=b"\r\n")
    end.feed(b"OUTP?\n", 0.0)
    assert end.take() == b"0\r\n"


def test_rule_2_values_of_one_message_belong_to_one_moment() -> None:
    link = Link()
    both = link.say("MEAS:VOLT?;CURR?")
    shown = link.rig.measured()
    assert both == f"{shown.volts:.3f};{shown.amps:.2f}"


# Rule 3


def test_rule_3_a_part_goes_on_from_the_last_ones_node() -> None:
    link = Link()
    assert link.say("MEAS:VOLT?;CURR?") == link.say("MEAS:VOLT?;:MEAS:CURR?")
    assert link.say("VOLT?;CURR?") == "9.000;40.00"
    assert link.say("STAT:QUES:COND?;ENAB?") == "0;0"


def test_rule_3_a_colon_goes_back_to_the_root() -> None:
    link = Link()
    assert link.say("MEAS:VOLT?;:CURR?") == f"{link.say('MEAS:VOLT?')};40.00"


def test_rule_3_a_common_command_leaves_the_node_alone() -> None:
    link = Link()
    volts, amps = link.say("MEAS:VOLT?"), link.say("MEAS:CURR?")
    assert link.say("MEAS:VOLT?;*OPC?;CURR?") == f"{volts};1;{amps}"


def test_rule_3_what_makes_no_sense_there_is_looked_up_from_the_root() -> None:
    link = Link()
    assert link.say("MEAS:VOLT?;MEAS:CURR?") == link.say("MEAS:VOLT?;CURR?")


# Rule 4


@pytest.mark.parametrize(
    ("message", "answer", "error"),
    [
        ("BOGUS?", None, -113),
        ("VOLT?;BOGUS?;CURR?", "9.000", -113),
        ("MEAS:VOLT", None, -113),
        ("*IDN", None, -113),
        ("?", None, -113),
        (":", None, -113),
        ("MEAS:VOLT? 3", None, -108),
        ("VOLT? 3", None, -224),
        ("VOLT", None, -109),
        ("VOLT 1,2", None, -108),
        ("VOLT nine", None, -104),
        ("VOLT 9 A", None, -131),
        ("VOLT 12.01", None, -222),
        ("VOLT -1", None, -222),
        ("CURR 0", None, -222),
        ("OUTP MAYBE", None, -104),
        ("*ESE 256", None, -222),
    ],
)
def test_rule_4_an_error_is_queued_and_the_rest_of_the_message_dropped(
    message: str, answer: str | None, error: int
) -> None:
    link = Link()
    assert link.say(message) == answer
    assert link.errors() == [error]
    assert link.say("VOLT?") == "9.000"


def test_rule_4_the_queue_is_first_in_first_out_and_says_when_it_overflowed() -> None:
    # SCPI-1999 vol. 2, 21.8: one error too many replaces the newest by -350.
    link = Link()
    link.say("VOLT 99")
    for _ in range(20):
        link.say("BOGUS?")
    assert link.say("SYST:ERR:COUN?") == "16"
    assert link.errors() == [-222, *[-113] * 14, -350]


def test_rule_4_an_error_shows_in_the_event_status_by_its_kind() -> None:
    # IEEE 488.2, 11.5.1: bit 5 command error, bit 4 execution error, bit 7 power on.
    link = Link()
    link.say("BOGUS?")
    assert link.say("*ESR?") == str(128 + 32)
    link.say("VOLT 99")
    assert link.say("*ESR?") == str(16)
    assert link.say("*STB?") == str(4)
    link.say("*CLS")
    assert link.say("*STB?") == "0"


# Rule 5


@pytest.mark.parametrize("rubbish", [b"\x00", b"\xff\xfe\xfd", b"MEAS:\x80VOLT?", b"\x1b[31m"])
def test_rule_5_bytes_outside_printable_ascii_are_an_invalid_character(rubbish: bytes) -> None:
    link = Link()
    link.end.feed(rubbish + b"\n", 60.0)
    assert link.end.take() == b""
    assert link.errors() == [-101]


@pytest.mark.parametrize("piece", [1, 7, 4096, 10000])
def test_rule_5_a_message_without_an_end_is_dropped_up_to_its_end(piece: int) -> None:
    link = Link()
    data = b"X" * 9000 + b"\nVOLT?\n"
    for start in range(0, len(data), piece):
        link.end.feed(data[start : start + piece], 60.0)
    assert link.end.take() == b"9.000\n"
    assert link.errors() == [-363]


CONVERSATION = (
    b"*IDN?\nMEAS:VOLT?;CURR?\r\n\r\nBOGUS\nSYST:ERR?\n\xff\x00\nVOLT 8\nVOLT?\n"
    b"STAT:QUES:COND?;:STAT:OPER:COND?;:OUTP?\n" + b"y" * 5000 + b"\nSYST:ERR?;ERR?;ERR?\n"
)


def talk(pieces: list[bytes]) -> tuple[bytes, list[str]]:
    link = Link()
    out = b""
    for piece in pieces:
        link.end.feed(piece, 60.0)
        out += link.end.take()
    return out, [exchange.as_json() for exchange in link.end.exchanges()]


def test_fed_byte_by_byte_it_says_what_it_says_fed_whole() -> None:
    whole = talk([CONVERSATION])
    assert talk([bytes([byte]) for byte in CONVERSATION]) == whole
    assert whole[0].count(b"\n") == 6


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(0, len(CONVERSATION)), max_size=12))
def test_however_it_is_cut_it_says_the_same(cuts: list[int]) -> None:
    edges = [0, *sorted(cuts), len(CONVERSATION)]
    pieces = [CONVERSATION[a:b] for a, b in itertools.pairwise(edges)]
    assert talk(pieces) == talk([CONVERSATION])


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=200))
def test_no_rubbish_stops_it_or_stays_in_the_way(rubbish: bytes) -> None:
    link = Link(t_s=0.0)
    link.end.feed(rubbish + b"\n", 0.0)
    answers = link.end.take()
    assert answers == b"" or answers.endswith(b"\n")
    assert link.say("*IDN?") == "BATHVIGIL SIM,DC-12-40,SIM0001,1.0"


# What it is told to do, and the record of it


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


def test_the_register_masks_can_be_set_and_preset() -> None:
    link = Link()
    link.say("*ESE 60;*SRE 32;:STAT:QUES:ENAB 18;:STAT:OPER:ENAB 256")
    assert link.say("*ESE?;*SRE?;:STAT:QUES:ENAB?;:STAT:OPER:ENAB?") == "60;32;18;256"
    assert link.say("*STB?") == str(128)
    link.say("BOGUS")
    assert link.say("*STB?") == str(4 + 32 + 64 + 128)
    link.say("STAT:PRES")
    assert link.say("STAT:QUES:ENAB?;:STAT:OPER:ENAB?") == "0;0"
    link.say("*OPC;*WAI;:SYST:REM;LOC")
    assert link.errors() == [-113]


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
    instrument = ScpiSupply(rig, identity(rig, 1))
    one, other = ScpiEnd(instrument), ScpiEnd(instrument)
    one.feed(b"VOLT 5\nBOGUS\nMEAS:", 1.0)
    other.feed(b"VOLT?;:SYST:ERR?\n", 2.0)
    assert other.take() == b'5.000;-113,"Undefined header"\n'
    one.feed(b"VOLT?\n", 3.0)
    assert one.take().startswith(b"5.0")


def test_the_resolution_of_the_answer_is_the_meters() -> None:
    rig = Rig(SWAB)
    end = ScpiEnd(ScpiSupply(rig, identity(rig, 12)))
    end.feed(b"MEAS:VOLT?;CURR?;:*IDN?\n", 30.0)
    volts, amps, *_ = end.take().split(b";")
    assert re.fullmatch(rb"\d\.\d{3}", volts)
    assert re.fullmatch(rb"\d\.\d{3}", amps)
