"""Which characters a terminal is trusted with, and that foreign text cannot harm it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.base.inert import inert
from tui.glyphs import ASCII, BLOCK, BRAILLE, SETS, next_set, suitable

TABLE = [
    ({"TERM": "xterm-256color", "LANG": "en_US.UTF-8"}, "braille"),
    ({"TERM": "screen", "LC_ALL": "C.UTF-8"}, "braille"),
    ({"TERM": "xterm", "LANG": "de_DE.utf8"}, "braille"),
    ({"TERM": "xterm", "LANG": "ja_JP.UTF-8@cjk"}, "braille"),
    ({"TERM": "linux", "LANG": "en_US.UTF-8"}, "block"),
    ({"TERM": "xterm", "LANG": "C"}, "ascii"),
    ({"TERM": "xterm", "LANG": "POSIX"}, "ascii"),
    ({"TERM": "xterm", "LANG": "de_DE.ISO-8859-1"}, "ascii"),
    ({"TERM": "xterm", "LANG": "en_US.CP437"}, "ascii"),
    ({"TERM": "xterm", "LANG": "de_DE.cp1252"}, "ascii"),
    ({"TERM": "xterm", "LANG": "en_US.UTF-8", "LC_ALL": "C"}, "ascii"),
    ({"TERM": "xterm"}, "ascii"),
    # PEP 538: what Python itself sets where the locale is C.
    ({"TERM": "xterm", "LANG": "C", "LC_CTYPE": "C.UTF-8"}, "ascii"),
    ({"TERM": "xterm", "LC_CTYPE": "C.UTF-8"}, "ascii"),
    ({"TERM": "xterm", "LANG": "de_DE.UTF-8", "LC_CTYPE": "C.UTF-8"}, "braille"),
    ({"TERM": "xterm", "LANG": "C", "LC_CTYPE": "de_DE.UTF-8"}, "braille"),
    ({"TERM": "dumb", "LANG": "en_US.UTF-8"}, "ascii"),
    ({"TERM": "vt100", "LANG": "en_US.UTF-8"}, "ascii"),
    ({"LANG": "en_US.UTF-8"}, "ascii"),
    ({}, "ascii"),
]


@pytest.mark.parametrize(("environ", "name"), TABLE, ids=str)
def test_the_richest_set_that_the_terminal_can_be_trusted_with(
    environ: dict[str, str], name: str
) -> None:
    assert suitable(environ).name == name


def test_one_key_goes_round_all_sets() -> None:
    assert [next_set(glyphs) for glyphs in SETS.values()] == [BLOCK, ASCII, BRAILLE]


def test_ascii_keeps_the_sense_of_accented_text() -> None:
    assert ASCII.text("bath of Zoë, Kärnten") == "bath of Zoe, Karnten"
    assert ASCII.text("浴").isascii()
    assert BRAILLE.text("Zoë") == "Zoë"


@given(st.text())
def test_foreign_text_never_moves_the_cursor_or_turns_the_writing(text: str) -> None:
    shown = inert(text)
    assert shown.isprintable()
    assert not set(shown) & set("\x1b\x07\x00\x7f\x9b\u202e\u2066\u200f\n\r")


def test_every_byte_a_supply_could_send_is_shown() -> None:
    shown = inert("".join(map(chr, range(256))), 1000)
    assert "<1B>" in shown
    assert "<00>" in shown
    assert "[/" in inert("[/bold]")


def test_endless_text_is_cut() -> None:
    assert inert("x" * 10_000, 20) == "x" * 17 + "..."
