"""The supply's end of a SCPI link: each numbered rule, however the bytes are cut.

Standards: IEEE 488.2-1992 and SCPI-1999, clauses from memory.
"""

import itertools
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulators.rig import Rig
from simulators.scene import load_scene
from simulators.scpi_end import ScpiEnd
from simulators.scpi_supply import ScpiSupply
from tests.simulators.scpi_hand import Link

TANK = load_scene("tank-warms-to-trip")
NR2 = re.compile(rb"\d+\.\d{2,3}")


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
    end = ScpiEnd(ScpiSupply(rig, rig.scene.supply.identity(1)), terminator=b"\r\n")
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
    assert link.say("STAT:QUES:COND?;EVEN?") == "0;0"


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


@settings(max_examples=40)
@given(st.lists(st.integers(0, len(CONVERSATION)), max_size=12))
def test_however_it_is_cut_it_says_the_same(cuts: list[int]) -> None:
    edges = [0, *sorted(cuts), len(CONVERSATION)]
    pieces = [CONVERSATION[a:b] for a, b in itertools.pairwise(edges)]
    assert talk(pieces) == talk([CONVERSATION])


@settings(max_examples=100)
@given(st.binary(max_size=200))
def test_no_rubbish_stops_it_or_stays_in_the_way(rubbish: bytes) -> None:
    link = Link(t_s=0.0)
    link.end.feed(rubbish + b"\n", 0.0)
    answers = link.end.take()
    assert answers == b"" or answers.endswith(b"\n")
    assert link.say("*IDN?") == "BATHVIGIL SIM,DC-12-40,SIM0001,1.0"
