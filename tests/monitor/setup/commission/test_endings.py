"""The numbered rules of `endings.py`: found, not guessed, for each of the sixteen pairs."""

from itertools import product

import pytest

from drivers.text.scpi_question import ScpiQuestion
from drivers.text.text_question import ENDS
from monitor.setup.commission.endings import Found, find_endings
from monitor.setup.commission.errors import NotCommissioned
from tests.clock import HandClock
from tests.drivers.fake_link import FakeLink
from tests.monitor.setup.commission.ends import MindingSupply

NAMES = {b"\n": "LF", b"\r": "CR", b"\r\n": "CR LF", b"": "none"}


def find(supply: MindingSupply, patience_s: float = 0.8) -> tuple[Found, float]:
    clock = HandClock()
    link = FakeLink(supply, clock)
    link.open(0)
    began_ns = clock.now_ns
    found = find_endings(
        link, clock, lambda end: ScpiQuestion("*IDN?", end), lambda text: "," in text, patience_s
    )
    return found, (clock.now_ns - began_ns) / 1e9


@pytest.mark.parametrize(("asked", "answered"), list(product(NAMES, NAMES)))
def test_all_sixteen_pairs_are_found_within_ten_seconds(asked: bytes, answered: bytes) -> None:
    supply = MindingSupply(asked_with=asked, answered_with=answered)
    found, took_s = find(supply)
    assert found.answer.text == "WORKSHOP,DC,7,1"
    assert found.answer.ends_with == NAMES[answered]
    # One that ends its messages with a silence takes them with any ending: the first one tried;
    # one that waits for LF takes CR LF only where it drops the CR, which this one does not.
    assert found.question_ends_with == ("LF" if asked == b"" else NAMES[asked])
    assert took_s < 10.0


def test_a_question_that_an_earlier_ending_left_behind_does_no_harm() -> None:
    supply = MindingSupply(asked_with=b"\r")
    found, _ = find(supply)
    assert found.question_ends_with == "CR"
    assert b"*IDN?\n*IDN?\n*IDN?" in supply.received, "the first one with CR was spoilt"


def test_an_echo_is_not_an_answer() -> None:
    supply = MindingSupply(asked_with=b"\r\n", is_echoing=True)
    found, _ = find(supply)
    assert (found.question_ends_with, found.answer.text) == ("CR LF", "WORKSHOP,DC,7,1")


def test_what_is_no_answer_is_told() -> None:
    supply = MindingSupply(answers={}, otherwise="ERROR 5")
    with pytest.raises(NotCommissioned, match=r"7 bytes came|'ERROR 5'"):
        find(supply)


def test_silence_is_told() -> None:
    with pytest.raises(NotCommissioned, match=r"\*IDN\? ending in LF, CR, .*no bytes at all came"):
        find(MindingSupply(answers={}))


def test_answers_that_come_later_than_waited_for_are_not_taken_for_another_endings() -> None:
    supply = MindingSupply(wait_s=2.5)
    with pytest.raises(NotCommissioned, match="later than waited for"):
        find(supply, patience_s=0.8)
    found, _ = find(MindingSupply(wait_s=2.5), patience_s=3.0)
    assert found.question_ends_with == "LF"


def test_only_the_question_is_ever_sent() -> None:
    supply = MindingSupply(asked_with=b"", answers={})
    with pytest.raises(NotCommissioned):
        find(supply)
    assert {message.rstrip(b"\r\n") for message in supply.received} == {b"*IDN?"}
    assert len(ENDS) * 2 == len(supply.received)
