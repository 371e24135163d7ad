"""SCPI's words: long and short forms, numbers with units. SCPI-1999 vol. 1 ch. 6 and 7, IEEE 488.2
ch. 7, from memory."""

import pytest

from simulators.scpi_words import (
    ScpiError,
    decimals,
    limits,
    number,
    spellings,
    split_header,
    truth_value,
)


@pytest.mark.parametrize(
    "typed",
    [
        "MEASure:SCALar:VOLTage:DC?",
        "measure:voltage?",
        "MEAS:VOLT?",
        ":meas:volt:dc?",
        "Meas1:Volt1?",
        "MEAS:SCAL:VOLT?",
    ],
)
def test_long_and_short_forms_in_any_case_are_the_same(typed: str) -> None:
    assert split_header(typed) in spellings("MEASure[:SCALar]:VOLTage[:DC]?")


@pytest.mark.parametrize(
    "typed",
    ["MEASU:VOLT?", "MEA:VOLT?", "MEAS:VOLT", "VOLT?", "MEAS?", "MEAS:VOLT2?", "MEAS::VOLT?"],
)
def test_nothing_between_the_two_forms_is_taken(typed: str) -> None:
    assert split_header(typed) not in spellings("MEASure[:SCALar]:VOLTage[:DC]?")


def test_an_optional_word_at_the_front_may_be_left_out() -> None:
    assert {("SOUR", "VOLT"), ("VOLT",)} <= spellings("[SOURce]:VOLTage")


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("9", 9.0),
        ("+9.", 9.0),
        (".5", 0.5),
        ("9.0E0", 9.0),
        ("90e-1", 9.0),
        ("9V", 9.0),
        ("9 v", 9.0),
        ("9000 mV", 9.0),
        ("0.009 KV", 9.0),
        ("MAXimum", 12.0),
        ("min", 0.0),
    ],
)
def test_numbers_come_in_every_form_of_the_standard(text: str, value: float) -> None:
    assert number(text, "V", limits(0.0, 12.0)) == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "error"),
    [
        ("nine", -104),
        ("", -104),
        ("9,5", -104),
        ("1_000", -104),
        ("nan", -104),
        ("٩", -104),
        ("9 A", -131),
        ("9 GV", -131),
        ("9e999", -222),
    ],
)
def test_what_is_no_number_of_volts_is_refused_with_its_own_error(text: str, error: int) -> None:
    with pytest.raises(ScpiError) as refused:
        number(text, "V", {})
    assert refused.value.number == error


@pytest.mark.parametrize(
    ("text", "value"), [("ON", True), ("off", False), ("1", True), ("0", False), ("0.4", False)]
)
def test_truth_values(text: str, value: bool) -> None:
    assert truth_value(text) is value


@pytest.mark.parametrize(
    ("step", "places"), [(0.0001, 4), (0.001, 3), (0.01, 2), (0.05, 2), (0.1, 1), (1.0, 0)]
)
def test_a_meter_shows_the_digits_of_its_resolution(step: float, places: int) -> None:
    assert decimals(step) == places
