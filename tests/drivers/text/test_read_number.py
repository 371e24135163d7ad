"""Numbers as IEEE 488.2-1992, 8.7 writes them in answers, and everything that is not one."""

import locale
import math
import os
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import NotUnderstood
from drivers.number import refused_as_sentinel
from drivers.text.answer import read_number


@pytest.mark.parametrize(
    ("text", "value"),
    [
        # IEEE 488.2-1992, 8.7.2: NR1, implicit radix point.
        ("0", 0.0),
        ("+12", 12.0),
        ("-7", -7.0),
        ("0012", 12.0),
        # IEEE 488.2-1992, 8.7.3: NR2, explicit radix point.
        ("12.5", 12.5),
        ("+12.500", 12.5),
        ("-0.020", -0.02),
        (".5", 0.5),
        # IEEE 488.2-1992, 8.7.4: NR3, radix point and exponent.
        ("+1.234E+01", 12.34),
        ("1.234e1", 12.34),
        ("-5.0E-3", -0.005),
        ("1E3", 1000.0),
        ("  3.25\t", 3.25),
    ],
)
def test_the_three_forms_of_numbers_are_read(text: str, value: float) -> None:
    assert read_number(text).value == value
    assert read_number(text).why is None


@pytest.mark.parametrize(
    "text",
    ["9.91E37", "+9.91E+37", "9.910000e+37", "99.1E36", "9.91000E37 V", "991E35", "9.9099998E37"],
)
def test_not_a_number_is_no_value_in_every_spelling(text: str) -> None:
    """SCPI-1999 volume 1, 7.2.1 (clause from memory): NAN is 9.91E37."""
    number = read_number(text, unit="V")
    assert number.value is None
    assert number.why == "not a number (9.91E37)"


@pytest.mark.parametrize(
    "text", ["9.9E37", "-9.9E37", "+9.90000E+37", "-99E36", "9.8999997E37", "9.9e+37"]
)
def test_infinity_is_no_value_in_every_spelling(text: str) -> None:
    """SCPI-1999 volume 1, 7.2.1 (clause from memory): INF and NINF are +-9.9E37."""
    number = read_number(text)
    assert number.value is None
    assert number.why == "infinite (9.9E37)"


@pytest.mark.parametrize("text", ["NAN", "nan", "INF", "+inf", "-INF", "NINF", "Infinity", " NaN "])
def test_words_for_no_number_are_no_value(text: str) -> None:
    assert read_number(text).value is None
    assert read_number(text).why is not None


@pytest.mark.parametrize("text", ["1e39", "-1e300", "1E999"])
def test_what_is_beyond_the_sentinels_is_no_value(text: str) -> None:
    assert read_number(text).why == "too large to be a value"


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [("12.5V", "V", 12.5), ("12.5 V", "V", 12.5), ("3.2a", "A", 3.2), ("24.0 degC", "degC", 24.0)],
)
def test_the_unit_that_is_named_may_stand_behind(text: str, unit: str, value: float) -> None:
    assert read_number(text, unit).value == value
    assert read_number(text.rstrip("VaAdegC "), unit).value == value


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        # SI brochure (BIPM, 9th edition), table 7.
        ("850.0 mV", "V", 0.85),
        ("+8.5000E+02 mA", "A", 0.85),
        ("120 \xb5A", "A", 0.00012),
        ("120uA", "A", 0.00012),
        ("0.012 kV", "V", 12.0),
        ("12.5Vdc", "V", 12.5),
        ("3.2 AMPS", "A", 3.2),
    ],
)
def test_thousandths_and_thousands_of_volts_and_amps_are_understood(
    text: str, unit: str, value: float
) -> None:
    assert read_number(text, unit).value == value


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "12,34",
        "1.234,5",
        "12.5;3.2",
        "12.5 3.2",
        "12.5\n3.2",
        "12.5.6",
        "12.",
        "1 2",
        "--5",
        "+",
        "1.2E",
        "1.2E+",
        "1.2E1.5",
        "0x10",
        "#H1A",
        "1_000",
        "12.5 mW",
        "12.5 A",
        "12.5V V",
        "V 12.5",
        "OL",
        "١٢",
        "1²",
        "12.5\x00",
        '-113,"Undefined header"',
        "1" * 65,
    ],
)
def test_anything_else_is_an_error(text: str) -> None:
    with pytest.raises(NotUnderstood):
        read_number(text, unit="V")


@pytest.mark.parametrize(
    ("text", "unit", "says"),
    [
        ("+12.5 V", "", "unit 'V' where 'none' was expected in 12.5V"),
        ("-3.2mw", "A", "unit 'mw' where 'A' was expected in 3.2MW"),
        ("1" * 65, "V", "65 characters where a number was expected"),
        ("NAN\n", "V", "not one number"),
        ("XNAN", "V", "not one number"),
        ("+XINF", "V", "not one number"),
    ],
)
def test_what_is_wrong_is_told(text: str, unit: str, says: str) -> None:
    with pytest.raises(NotUnderstood) as told:
        read_number(text, unit) if unit else read_number(text)
    assert str(told.value) == says


def test_the_longest_number_and_the_least_sentinel_are_what_they_are_said_to_be() -> None:
    assert read_number("1" * 64, unit="V").why == "too large to be a value"
    assert read_number("0" * 62 + "12").value == 12.0
    assert refused_as_sentinel(9.9e37 * (1 - 1e-4)) is not None
    assert refused_as_sentinel(9.9e37 * (1 - 2e-4)) is None


@given(
    value=st.floats(-1e30, 1e30, allow_subnormal=False),
    form=st.sampled_from(["{:.0f}", "{:.3f}", "{:+.6E}", "{:e}", "{!r}"]),
    unit=st.sampled_from(["", "V", " V", "v"]),
    before=st.sampled_from(["", " ", "\t"]),
)
def test_a_written_number_is_read_as_written(
    value: float, form: str, unit: str, before: str
) -> None:
    text = form.format(value)
    if len(text) > 60:
        return
    assert read_number(before + text + unit, unit="V").value == float(text)


@given(
    first=st.decimals(-1000, 1000, places=3),
    noise=st.text(min_size=1, max_size=3),
    second=st.decimals(-1000, 1000, places=3),
)
def test_two_numbers_or_noise_never_make_another_number(
    first: object, noise: str, second: object
) -> None:
    """The value that stands there whole, or an error: never another one."""
    text = f"{first}{noise}{second}"
    try:
        value = read_number(text).value
    except NotUnderstood:
        return
    assert text.isascii()
    assert value is None or value == float(text.strip(" \t"))


@given(st.text(max_size=20))
def test_any_text_is_a_number_or_an_error(text: str) -> None:
    try:
        number = read_number(text, unit="V")
    except NotUnderstood:
        return
    assert (number.value is None) == (number.why is not None)
    assert number.value is None or math.isfinite(number.value)


def test_no_locale_has_a_say() -> None:
    """Numbers read the same under a locale with a decimal comma, or one that does not exist."""
    code = (
        "import locale\n"
        "try: locale.setlocale(locale.LC_ALL, '')\n"
        "except locale.Error: pass\n"
        "from drivers.text.answer import read_number\n"
        "print(read_number('12.5').value)\n"
        "try: read_number('12,5')\n"
        "except ValueError: print('refused')\n"
    )
    words = {"LC_ALL": "de_DE.UTF-8", "LANG": "de_DE.UTF-8"}
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, **words},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.split() == ["12.5", "refused"]
    assert locale.getlocale() is not None
