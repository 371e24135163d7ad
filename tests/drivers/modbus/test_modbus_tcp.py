"""The numbered rules of a conversation on TCP, each against a scripted unit."""

import struct
from collections.abc import Callable

import pytest

from drivers.errors import NoAnswer, Reopen, SupplyRefused, SupplySilent
from drivers.modbus.modbus_tcp import TcpConversation, TcpReplies
from drivers.promises import Fault
from tests.drivers.fake_registers import FakeRegisters
from tests.drivers.register_talk import HELD, TIMEOUT_S, VALUES, Talk, talk, tcp
from tests.drivers.spoiling import Piece


class Answering(FakeRegisters):
    """Its next answers are made by the test from the true ones."""

    script: list[Callable[[bytes], list[Piece]]]

    def spoil(self, answer: bytes) -> list[Piece]:
        return self.script.pop(0)(answer) if self.script else super().spoil(answer)


def answering(*script: Callable[[bytes], list[Piece]]) -> tuple[Talk, TcpConversation]:
    unit = Answering(is_tcp=True)
    unit.script = []
    on = talk(unit, gap_s=0.0)
    conversation = tcp(on)
    assert conversation.learn(conversation.sentinel) == HELD
    unit.script = list(script)
    return on, conversation


def volts_of(registers: tuple[int, ...]) -> float:
    return float(struct.unpack(">f", struct.pack(">HH", *registers[:2]))[0])


def test_each_question_has_a_number_of_its_own() -> None:
    on, conversation = answering()
    for _ in range(5):
        conversation.ask(VALUES)
    numbers = [frame[:2] for frame in on.unit.received]
    assert len(set(numbers)) == len(numbers)


def test_numbers_go_round_after_65535() -> None:
    on, conversation = answering()
    on.line.state(TcpReplies).next_number = 0xFFFF
    for _ in range(3):
        assert len(conversation.ask(VALUES)) == 7
    assert [frame[:2].hex() for frame in on.unit.received[-3:]] == ["ffff", "0000", "0001"]


def test_a_late_reply_is_known_by_its_number_and_the_line_stays() -> None:
    on, conversation = answering(lambda answer: [Piece(1.5 * TIMEOUT_S, answer)])
    with pytest.raises(NoAnswer):
        conversation.ask(VALUES)
    before = len(on.unit.given)
    assert volts_of(conversation.ask(VALUES)) == on.unit.given[before].value
    assert conversation.tally.late == 1
    assert on.wire.opened == 1


@pytest.mark.parametrize(
    "spoil",
    [
        lambda answer: [Piece(0.0, b"\x77\x77" + answer[2:])],
        lambda answer: [Piece(0.0, answer[:2] + b"\0\1" + answer[4:])],
        lambda answer: [Piece(0.0, answer[:6] + b"\2" + answer[7:])],
        lambda answer: [Piece(0.0, answer[:7] + b"\4" + answer[8:])],
        lambda answer: [Piece(0.0, answer[:5] + b"\x0f" + answer[6:7] + b"\3\x0c" + answer[9:21])],
        lambda answer: [Piece(0.0, answer[:8] + b"\x0c" + answer[9:])],
        lambda answer: [Piece(0.0, answer[:4] + b"\xff\xff" + answer[6:])],
        lambda answer: [Piece(0.0, b"HTTP/1.1 400 Bad Request\r\n\r\n")],
    ],
    ids=[
        "number",
        "protocol",
        "unit",
        "function",
        "fewer registers",
        "byte count",
        "length",
        "another server",
    ],
)
def test_what_does_not_match_drops_the_connection(
    spoil: Callable[[bytes], list[Piece]],
) -> None:
    on, conversation = answering(spoil)
    with pytest.raises(Reopen, match="dropped"):
        conversation.ask(VALUES)
    assert not on.wire.is_open


def test_a_reply_that_comes_twice_drops_the_connection() -> None:
    on, conversation = answering(lambda answer: [Piece(0.0, answer + answer)])
    assert len(conversation.ask(VALUES)) == 7
    with pytest.raises(Reopen, match="never asked"):
        conversation.ask(VALUES)
    assert not on.wire.is_open


@pytest.mark.parametrize("at", range(23))
def test_a_reply_cut_anywhere_is_no_answer(at: int) -> None:
    _, conversation = answering(lambda answer: [Piece(0.0, answer[:at])])
    with pytest.raises(NoAnswer):
        conversation.ask(VALUES)


def test_a_reply_in_two_parts_is_taken_when_it_is_whole() -> None:
    _, conversation = answering(lambda answer: [Piece(0.0, answer[:9]), Piece(0.05, answer[9:])])
    assert len(conversation.ask(VALUES)) == 7


def test_three_silences_in_a_row_ask_for_a_new_connection() -> None:
    on, conversation = answering()
    on.unit.fault = Fault.MUTE
    for expected in (NoAnswer, NoAnswer, SupplySilent):
        with pytest.raises(expected):
            conversation.ask(VALUES)


def test_an_exception_is_said_in_words_and_the_line_stays() -> None:
    on, conversation = answering()
    on.unit.refuses = {(3, 0, 7): 4}
    with pytest.raises(SupplyRefused, match="server device failure"):
        conversation.ask(VALUES)
    on.unit.refuses = {}
    assert len(conversation.ask(VALUES)) == 7
    assert on.wire.opened == 1
