"""The rules of the line buffer, each fed whole, byte by byte, and with rubbish behind."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.link.line_buffer import LineBuffer


def all_lines(lines: LineBuffer) -> list[str]:
    taken = []
    while (line := lines.take()) is not None:
        taken.append(line)
    return taken


@pytest.mark.parametrize("end", [b"\n", b"\r", b"\r\n", b"\n\r", b"\r\n\n"])
def test_the_end_of_a_line_is_found_and_not_assumed(end: bytes) -> None:
    data = b"12.5;3.2" + end + b"0" + end
    whole = LineBuffer()
    whole.feed(data)
    assert all_lines(whole) == ["12.5;3.2", "0"]
    bytewise = LineBuffer()
    taken = []
    for each in data:
        bytewise.feed(bytes([each]))
        taken += all_lines(bytewise)
    assert taken == ["12.5;3.2", "0"]


def test_text_without_its_end_is_never_a_line() -> None:
    lines = LineBuffer()
    for piece in (b"12", b".", b"3"):
        lines.feed(piece)
        assert lines.take() is None
    assert lines.pending == b"12.3"
    lines.feed(b"4\n")
    assert lines.take() == "12.34"


def test_empty_lines_and_nul_bytes_are_nothing() -> None:
    lines = LineBuffer()
    lines.feed(b"\0\r\n\n\0\0")
    assert lines.take() is None
    assert lines.pending == b""
    lines.feed(b"1\x002.5\0\n")
    assert lines.take() == "12.5"


def test_a_line_over_the_limit_is_dropped_whole_and_counted() -> None:
    lines = LineBuffer(max_length=8)
    for _ in range(5):
        lines.feed(b"123456789")
        assert lines.take() is None
    assert len(lines.pending) == 0
    lines.feed(b"12\n3.5\n")
    assert all_lines(lines) == ["3.5"]
    assert lines.overlong_lines == 1
    assert lines.dropped_bytes == 47


def test_leftovers_are_discarded_and_counted() -> None:
    lines = LineBuffer()
    lines.feed(b"\r\n12.5\n3.")
    assert lines.discard() == 7
    assert lines.dropped_bytes == 7
    assert lines.take() is None
    lines.feed(b"\n")
    assert lines.discard() == 0


def test_every_byte_becomes_one_character() -> None:
    data = bytes(each for each in range(1, 256) if each not in b"\r\n")
    lines = LineBuffer()
    lines.feed(data + b"\n")
    line = lines.take()
    assert line is not None
    assert line.encode("latin-1") == data


WORDS = st.lists(st.binary(min_size=1, max_size=12).filter(lambda b: not set(b) & set(b"\r\n\0")))


@given(words=WORDS, cuts=st.lists(st.integers(0, 200)), end=st.sampled_from([b"\n", b"\r\n"]))
def test_however_it_is_cut_the_lines_are_the_same(
    words: list[bytes], cuts: list[int], end: bytes
) -> None:
    data = b"".join(word + end for word in words)
    places = sorted({0, len(data), *(cut for cut in cuts if cut < len(data))})
    lines = LineBuffer()
    taken = []
    for start, stop in pairwise(places):
        lines.feed(data[start:stop])
        taken += all_lines(lines)
    assert taken == [word.decode("latin-1") for word in words]


@given(st.lists(st.binary(max_size=40), max_size=30))
def test_the_buffer_never_grows_beyond_its_limit(pieces: list[bytes]) -> None:
    lines = LineBuffer(max_length=16)
    for piece in pieces:
        lines.feed(piece)
        for line in all_lines(lines):
            assert 0 < len(line) <= 16
        assert len(lines.pending) <= 16
