"""What a supply does beside answering: it rests, prompts, ends nothing, and starts anew."""

from pathlib import Path

import pytest

from drivers.errors import GarbledAnswer, SupplySilent
from drivers.lines.lines import LinesDriver
from drivers.lines.lines_description import load_lines_description
from drivers.link.asking_link import AskingLink
from drivers.text.conversation import Conversation
from drivers.text.scpi_question import ScpiQuestion
from drivers.text.talk_style import Extent, TalkStyle
from drivers.text.text_question import wires
from tests.clock import HandClock
from tests.drivers.fake_link import FakeLink
from tests.drivers.fake_supply import FakeSupply
from tests.drivers.spoiling import Piece

VOLTS = ScpiQuestion("MEAS:VOLT?", "none")
TIMEOUT_S = 0.1


class Wire(FakeSupply):
    """Answers each question with the same bytes, and notes when it was asked."""

    def __init__(self, clock: HandClock, answer: bytes, awake_s: float = 0.0) -> None:
        super().__init__()
        self.clock = clock
        self.says = answer
        self.awake_ns = clock.now_ns + int(awake_s * 1e9)
        self.asked_ns: list[int] = []

    def receive(self, data: bytes) -> list[Piece]:
        self.asked_ns.append(self.clock.now_ns)
        return [Piece(0.001, self.says)] if self.clock.now_ns >= self.awake_ns else []


def talking(answer: bytes, style: TalkStyle) -> tuple[Conversation, Wire]:
    clock = HandClock()
    wire = Wire(clock, answer)
    link = FakeLink(wire, clock)
    link.open(0)
    talk = Conversation(
        AskingLink(link, wires([VOLTS])), clock, TIMEOUT_S, 0.02, "bench-1",
        has_sentinel=False, style=style,
    )  # fmt: skip
    talk.begin(100.0)
    return talk, wire


def test_a_supply_has_its_rest_before_each_question() -> None:
    talk, wire = talking(b"6.0\n", TalkStyle(rest_s=0.3))
    for _ in range(3):
        talk.ask(VOLTS, float)
    first, second, third = wire.asked_ns
    assert min(second - first, third - second) >= 0.3e9


@pytest.mark.parametrize(
    ("answer", "ignored"),
    [
        (b"6.0\r\n> ", ("> ",)),
        (b"MEAS:VOLT?\r\n6.0\r\nOK\r\n> ", ("> ", "OK")),
        (b"OK\r\n6.0\r\n", ("OK",)),
        (b"6.0\rbench>", ("bench>",)),
    ],
)
def test_what_stands_around_an_answer_is_skipped(answer: bytes, ignored: tuple[str, ...]) -> None:
    talk, _ = talking(answer, TalkStyle(ignored=ignored))
    assert [talk.ask(VOLTS, float) for _ in range(3)] == [6.0, 6.0, 6.0]
    assert talk.tally.late == talk.tally.garbled == 0


def test_the_same_is_more_than_an_answer_where_nobody_said_so() -> None:
    talk, _ = talking(b"6.0\r\n> ", TalkStyle())
    with pytest.raises(GarbledAnswer, match="more behind it"):
        talk.ask(VOLTS, float)


def test_an_answer_may_end_by_its_length_or_after_some_lines() -> None:
    talk, _ = talking(b"06.00", TalkStyle(extents={VOLTS.text: Extent(length=5)}))
    assert talk.ask(VOLTS, str) == "06.00"
    talk, _ = talking(b"U 6.0\r\nI 2.0\r\n", TalkStyle(extents={VOLTS.text: Extent(lines=2)}))
    assert talk.ask(VOLTS, str) == "U 6.0\nI 2.0"
    talk, _ = talking(b"06.0", TalkStyle(extents={VOLTS.text: Extent(length=5)}))
    with pytest.raises(GarbledAnswer, match="4 bytes without an end"):
        talk.ask(VOLTS, str)


DESCRIPTION = """
format = 1
kind = "lines"
title = "a board"
source = "invented"
[[answer]]
ask = "MEAS:VOLT?"
pattern = '(?P<volts>[0-9.]+);(?P<amps>[0-9.]+)'
source = "invented"
"""


def board(tmp_path: Path, awake_s: float, start_s: float) -> LinesDriver:
    file = tmp_path / "board.toml"
    file.write_text(DESCRIPTION, encoding="utf-8")
    description = load_lines_description(str(file))
    clock = HandClock()
    link = FakeLink(Wire(clock, b"6.0;2.0\n", awake_s), clock)
    talk = Conversation(
        AskingLink(link, wires(description.questions)), clock, TIMEOUT_S, 0.02, "bench-1",
        has_sentinel=False,
    )  # fmt: skip
    return LinesDriver(talk, description, start_s)


def test_a_board_that_starts_is_waited_for_on_the_open_port(tmp_path: Path) -> None:
    driver = board(tmp_path, awake_s=2.0, start_s=3.5)
    driver.open()
    assert driver.read().volts == 6.0
    assert driver.conversation.clock.monotonic_ns() < 4e9 + 1e9 * driver.deadline_s


def test_nobody_waits_for_ever_for_one_that_does_not_start(tmp_path: Path) -> None:
    driver = board(tmp_path, awake_s=60.0, start_s=3.5)
    began_ns = driver.conversation.clock.monotonic_ns()
    with pytest.raises(SupplySilent):
        driver.open()
    assert driver.conversation.clock.monotonic_ns() - began_ns <= 1e9 * driver.deadline_s
