"""Big letters: every character that the state words need can be drawn, and reads as itself."""

import math

import pytest

from monitor.text.standing import StateWord
from tests.tui import pictures
from tui.font import HEIGHT, can_draw, largest, letter, rows_of
from tui.glyphs import ASCII, BLOCK, BRAILLE, Glyphs

WORDS = tuple(StateWord)


@pytest.mark.parametrize("glyphs", [BRAILLE, BLOCK, ASCII], ids=lambda g: g.name)
@pytest.mark.parametrize("scale", [1, 2, 3, 4])
def test_all_rows_of_a_word_are_equally_wide(glyphs: Glyphs, scale: int) -> None:
    for word in WORDS:
        drawn = letter(word, scale, glyphs)
        if not can_draw(scale, glyphs):
            assert drawn.rows == ()
            continue
        assert len(drawn.rows) == rows_of(scale)
        assert {len(row) for row in drawn.rows} == {drawn.width}


def test_no_two_capitals_or_digits_look_alike() -> None:
    drawn = {char: letter(char, 2, ASCII).rows for char in "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"}
    # O and 0 differ in nothing else than what stands around them, as on many meters.
    assert drawn.pop("0") == drawn["O"]
    assert drawn.pop("5") != drawn["S"]
    assert len(set(drawn.values())) == len(drawn)


def test_ascii_letters_hold_nothing_but_ascii() -> None:
    assert all(row.isascii() for word in WORDS for row in letter(word, 2, ASCII).rows)


def test_a_letter_of_the_state_word_can_be_read_from_three_metres() -> None:
    # Capital letters are read comfortably at 20 to 22 minutes of arc (ISO 9241-303, from memory).
    # A 15-inch screen is about 0.33 m wide and shows 120 columns; a pixel is one column wide.
    pixel_m = 0.33 / 120
    height_m = HEIGHT * 2 * pixel_m
    minutes = math.degrees(math.atan(height_m / 3.0)) * 60.0
    assert minutes > 22.0


def test_every_word_fits_a_screen_of_80_columns_in_big_letters() -> None:
    for word in WORDS:
        assert largest(word, 78, 5, (3, 2, 1), BRAILLE).rows, word


def test_what_fits_nowhere_has_no_rows() -> None:
    assert largest("STEADY", 10, 5, (2, 1), BRAILLE).rows == ()
    assert letter("", 2, BRAILLE).width == 0


def test_the_words_of_the_test_are_those_of_the_pictures() -> None:
    assert {make().standing.word for make in pictures.LIVE.values()} <= set(WORDS)
