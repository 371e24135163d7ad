"""What comes again and again is told from a greeting and from a late answer."""

import pytest

from drivers.lines.line_question import LineQuestion
from monitor.setup.commission.endings import dissect
from monitor.setup.commission.listening import Heard, block_of, every_s


def heard(*texts: str, every_s: float = 1.0) -> list[Heard]:
    return [Heard(text, int(n * every_s * 1e9)) for n, text in enumerate(texts)]


@pytest.mark.parametrize(
    ("texts", "count"),
    [
        (("V=12.0", "V=12.1", "V=9.9"), 1),
        (("V= 9.9", "V=12.1", "V= 8.0"), 1),
        (("U=1", "I=2", "U=3", "I=4", "U=5"), 2),
        (("board 1.2", "checking", "ready"), 0),
        (("12.0", "12.1"), 0),
    ],
)
def test_lines_of_the_same_shapes_make_a_block(texts: tuple[str, ...], count: int) -> None:
    assert block_of(heard(*texts)) == count


def test_a_greeting_before_does_not_count() -> None:
    lines = heard("board 1.2", "ready", "V=1.0", "V=2.0", "V=3.0", every_s=0.5)
    assert (block_of(lines), every_s(lines, 1)) == (1, 0.5)


@pytest.mark.parametrize(
    ("raw", "text", "ends_with", "ignored"),
    [
        (b"12.04\r\n", "12.04", "CR LF", ()),
        (b"V?\r12.04\r\n> ", "12.04", "CR LF", ("> ",)),
        (b"> V?\r\n12.04\r\n> ", "12.04", "CR LF", ("> ",)),
        (b"12.04\nOK\n", "12.04", "LF", ("OK",)),
        (b"OK\n", "OK", "LF", ()),
        (b"\n12.04", "12.04", "none", ()),
        (b"U 12.04\rI 5.37\r", "U 12.04\nI 5.37", "CR", ()),
        (b"U 12.04\r\nI 5.37", "U 12.04\r\nI 5.37", "none", ()),
        (b"12.04\r>", "12.04", "CR", (">",)),
    ],
)
def test_an_answer_is_told_from_what_stands_around_it(
    raw: bytes, text: str, ends_with: str, ignored: tuple[str, ...]
) -> None:
    answer = dissect(raw, LineQuestion("V?", "CR"))
    assert answer is not None
    assert (answer.text, answer.ends_with, answer.ignored) == (text, ends_with, ignored)


def test_only_an_echo_is_no_answer() -> None:
    assert dissect(b"V?\r", LineQuestion("V?", "CR")) is None
    assert dissect(b"\r\n", LineQuestion("V?", "CR")) is None
