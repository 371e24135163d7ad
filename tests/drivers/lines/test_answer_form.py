"""The three forms of answers in plain text, and how numbers are written in them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import NotUnderstood
from drivers.lines.answer_form import Columns, JsonKeys, Writing, is_cut_unseen, look_up

PLAIN = Writing({})
KEYS = JsonKeys({"volts": "/out/v", "amps": "/out/i", "status": "/mode"}, PLAIN)
COLUMNS = Columns(";", 3, {"volts": 1, "amps": 3}, PLAIN)


def test_json_is_read_by_its_keys_in_any_order() -> None:
    values = KEYS.understand('{"mode": "CV", "out": {"i": 5.37, "v": "12.04 V"}}')
    assert {name: number.value for name, number in values.numbers.items()} == {
        "volts": 12.04,
        "amps": 5.37,
    }
    assert values.status == "CV"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('{"mode": "CV", "out": {"i": 5.37}}', "nothing at /out/v"),
        ('{"mode": "CV", "out": {"i": 5.37, "v": true}}', "no number at /out/v"),
        ('{"mode": "CV", "out": {"i": 5.37, "v": 12.0', "not JSON"),
        ('{"mode": 1, "mode": 2, "out": {"i": 5.37, "v": 12.0}}', "twice"),
        ("[" * 5000, "too many"),
    ],
)
def test_json_that_says_no_value_is_told(text: str, says: str) -> None:
    with pytest.raises(NotUnderstood, match=says):
        KEYS.understand(text)


def test_no_value_in_json_is_no_number() -> None:
    """RFC 8259 has null for it; NaN is none of its words, but some writers use it."""
    for word in ("null", "NaN", "Infinity"):
        values = KEYS.understand(f'{{"mode": "CV", "out": {{"i": 5.37, "v": {word}}}}}')
        assert values.numbers["volts"].value is None


# RFC 6901, section 5: the document and pointers of its own example.
@pytest.mark.parametrize(
    ("pointer", "value"), [("/foo/0", "bar"), ("/a~1b", 1), ("/m~0n", 8), ("/c%d", 2), ("/ ", 7)]
)
def test_pointers_lead_where_the_standard_says(pointer: str, value: object) -> None:
    document = {"foo": ["bar", "baz"], "a/b": 1, "c%d": 2, " ": 7, "m~n": 8}
    assert look_up(document, pointer) == value


@pytest.mark.parametrize("text", ["12.04;5.37", "12.04;x;5.37;1", "12.04;x;CV", ""])
def test_columns_are_read_only_where_all_are_there(text: str) -> None:
    assert COLUMNS.understand("12.04; dry ;5.37").numbers["amps"].value == 5.37
    with pytest.raises(NotUnderstood):
        COLUMNS.understand(text)


@pytest.mark.parametrize(
    ("writing", "text", "value"),
    [
        (PLAIN, " 12.04", 12.04),
        (PLAIN, "12.04-", -12.04),
        (PLAIN, "-  0.05", -0.05),
        (PLAIN, "850 mV", 0.85),
        (Writing({}, has_decimal_comma=True), "12,04 V", 12.04),
        (Writing({"volts": 0.01}, is_hex=True), "04B4h", 12.04),
    ],
)
def test_a_number_is_read_as_it_is_written(writing: Writing, text: str, value: float) -> None:
    assert writing.number("volts", text).value == value


@pytest.mark.parametrize("text", ["+12.04-", "12.04 A", "12 04", "1.204E+", "OL", "12,04"])
def test_what_is_no_number_of_volts_is_refused(text: str) -> None:
    with pytest.raises(NotUnderstood):
        PLAIN.number("volts", text)


@given(value=st.floats(-99, 99), unit=st.sampled_from(["", "V", " V", " Vdc"]))
def test_what_was_written_is_read(value: float, unit: str) -> None:
    assert PLAIN.number("volts", f"{value:+8.3f}{unit}").value == float(f"{value:.3f}")


def test_only_json_shows_that_it_was_cut() -> None:
    assert not is_cut_unseen(KEYS, '{"mode": "CV", "out": {"i": 5.37, "v": 12.04}}')
    assert is_cut_unseen(COLUMNS, "12.04;x;5.37")
