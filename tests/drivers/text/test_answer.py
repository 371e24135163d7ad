"""The forms of an error queue's entries (SCPI-1999 volume 2, 21.8; clause from memory)."""

import pytest

from drivers.text.answer import SupplyError, read_supply_error


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        # Codes and texts: SCPI-1999 volume 2, 21.8.
        ('0,"No error"', 0, "No error"),
        ('+0,"No error"', 0, "No error"),
        ('-113,"Undefined header"', -113, "Undefined header"),
        ('-222,"Data out of range"', -222, "Data out of range"),
        ('-350,"Queue overflow"', -350, "Queue overflow"),
        ('-113, "Undefined header;MEAS:VOLT?"', -113, "Undefined header;MEAS:VOLT?"),
        # IEEE 488.2-1992, 8.7.8: a quotation mark within a string stands there twice.
        ('201,"Fan ""A"" stands"', 201, 'Fan "A" stands'),
    ],
)
def test_entries_of_an_error_queue_are_understood(text: str, code: int, words: str) -> None:
    assert read_supply_error(text) == SupplyError(code, words)


@pytest.mark.parametrize(
    "text",
    ["", "0", "12.5;3.2", "-113,Undefined header", '12.5,"x"', '0,"No error', '0,"a"b"', "x,y,z,1"],
)
def test_other_texts_are_no_errors(text: str) -> None:
    assert read_supply_error(text) is None
