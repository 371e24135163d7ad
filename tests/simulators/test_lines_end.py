"""The end of a supply that speaks plain ASCII: each numbered rule, each speech that comes along."""

import itertools
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulators.lines_end import LinesEnd, LinesSupply
from simulators.meters import Meters
from simulators.rig import Rig
from simulators.scene import load_scene
from simulators.speech import load_speech
from simulators.tags import Tag, read_tag

T_S = 60.0


def end_of(speech: str, *, is_tagged: bool = False, scene: str = "quiet-strip") -> LinesEnd:
    meters = Meters(Rig(load_scene(scene)), 3, is_tagged=is_tagged)
    return LinesEnd(LinesSupply(load_speech(speech), meters, serial=12))


def ask(end: LinesEnd, data: bytes) -> bytes:
    end.feed(data, T_S)
    return end.take()


def test_rule_1_a_question_ends_as_the_speech_says() -> None:
    end = end_of("asks-apart")
    assert ask(end, b"V?") == b""
    assert end.has_part
    assert re.fullmatch(rb"V=6\.00\r", ask(end, b"\r"))
    assert re.fullmatch(rb"I=\+\d\.\d{3}A\r", ask(end, b"I?\r"))
    assert ask(end, b"ST\rSN\r") == b"ST CV\rSN 000012\r"


def test_rule_1_a_silence_ends_a_question_where_nothing_else_does() -> None:
    end = end_of("no-terminator")
    assert ask(end, b"U") == b""
    end.pause(T_S)
    assert re.fullmatch(rb"U006\.00V", end.take())
    end.pause(T_S)
    assert end.take() == b""


def test_rule_1_the_pair_comes_in_one_answer() -> None:
    end = end_of("pair-crlf")
    answer = ask(end, b"READ\r\n")
    assert re.fullmatch(rb"00[56]\.\d{3} V, 00\d\.\d{3} A, CV\r\n", answer)
    assert ask(end, b"ID\r\n") == b"BATHVIGIL SIM,DC-12-10,SIM0012,1.0\r\n"
    end.pose_as(99)
    assert ask(end, b"ID\r\n") == b"BATHVIGIL SIM,DC-12-10,SIM0099,1.0\r\n"


def test_what_there_is_not_is_said_so() -> None:
    assert ask(end_of("pair-crlf", scene="swab-warms-to-trip"), b"TEMP\r\n") == b"--- C\r\n"


def test_rule_2_what_is_no_question_is_on_record_and_does_nothing() -> None:
    end = end_of("asks-apart")
    assert ask(end, b"VSET 12\rV?\r\r") == b"?\rV=6.00\r"
    assert [exchange.commands for exchange in end.exchanges()] == [("VSET 12",), ()]
    end = end_of("no-terminator")
    ask(end, b"OUT0")
    end.pause(T_S)
    (exchange,) = end.exchanges()
    assert (exchange.commands, exchange.answer) == (("OUT0",), None)


def test_rule_3_a_talker_talks_and_hears_nothing() -> None:
    end = end_of("talker")
    assert end.every_s == 1.0
    assert ask(end, b"V?\r") == b""
    end.speak(T_S)
    assert re.fullmatch(rb"0[56]\.\d{3};\+0\d\.\d{3};CV\r\n", end.take())
    heard, said = end.exchanges()
    assert (heard.answer, said.question) == (None, "")


def test_after_switching_on_the_output_is_off() -> None:
    end = end_of("asks-apart")
    ask(end, b"half")
    end.restart()
    assert ask(end, b"ST\r") == b"ST OFF\r"


def test_tagged_values_tell_whose_they_are() -> None:
    end = end_of("asks-apart", is_tagged=True)
    for number in (1, 2):
        volts, amps = ask(end, b"V?\r"), ask(end, b"I?\r")
        assert read_tag(float(volts[2:-1]), 0.01) == Tag("volts", 3, number)
        assert read_tag(float(amps[2:-2]), 0.001) == Tag("amps", 3, number)
    tags = [exchange.tags for exchange in end.exchanges()]
    assert tags == [(Tag(q, 3, n),) for n in (1, 2) for q in ("volts", "amps")]


TALK = b"V?\rI?\r\r\rBOGUS\rST\r\xff\x00\rSN\r" + b"y" * 300 + b"\rV?\r"


def talk(pieces: list[bytes]) -> bytes:
    end = end_of("asks-apart")
    return b"".join(ask(end, piece) for piece in pieces)


@settings(max_examples=40)
@given(st.lists(st.integers(0, len(TALK)), max_size=8))
def test_however_it_is_cut_it_says_the_same(cuts: list[int]) -> None:
    edges = [0, *sorted(cuts), len(TALK)]
    pieces = [TALK[a:b] for a, b in itertools.pairwise(edges)]
    said = talk(pieces)
    assert said.count(b"V=6.00\r") == 2
    assert said.startswith(talk([TALK[:25]]))


@pytest.mark.parametrize("rubbish", [b"\r", b"\xff" * 9 + b"\r", b"x" * 256 + b"x"])
def test_rubbish_does_not_stay_in_the_way(rubbish: bytes) -> None:
    end = end_of("asks-apart")
    ask(end, rubbish)
    assert ask(end, b"V?\r").endswith(b"V=6.00\r")
