"""The numbered rules of `line_pattern.py`."""

import re
from collections.abc import Mapping

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.lines.answer_form import LinePattern, Writing
from drivers.lines.lines_description import load_lines_description
from monitor.setup.commission.errors import Ambiguous, NotCommissioned
from monitor.setup.commission.line_pattern import find_pattern, find_state
from monitor.setup.commission.made import draft
from monitor.setup.commission.panel import Shown, read_shown
from monitor.setup.commission.toml_text import Document, toml_text

BOTH = [
    {"volts": read_shown("12.04"), "amps": read_shown("5.37")},
    {"volts": read_shown("7.51"), "amps": read_shown("3.18")},
]
VOLTS = [{"volts": one["volts"]} for one in BOTH]


def with_unit(name: str, number: str, unit: str, space: str = "", point: str = r"\.") -> str:
    """A value with its unit, or with the thousandth of it."""
    other = rf"[+-]?[0-9]+(?:{point}[0-9]+)?(?={space}m{unit})"
    return rf"(?P<{name}>[+-]?{number}|{other}){space}(?P<{name}_unit>m?{unit})"


@pytest.mark.parametrize(
    ("answers", "shown", "pattern", "scales"),
    [
        (("12.04", "7.51"), VOLTS, r"(?P<volts>[+-]?[0-9]+\.[0-9]{2})", {"volts": 1.0}),
        (("U1204", "U0751"), VOLTS, r"U(?P<volts>[+-]?[0-9]{4})", {"volts": 0.01}),
        (
            ("+12.04V", "+7.51V"),
            VOLTS,
            with_unit("volts", r"[0-9]+\.[0-9]{2}", "V"),
            {"volts": 1.0},
        ),
        (
            ("12.041 V, 5.372 A, CV", "7.508 V, 3.177 A, CC"),
            BOTH,
            with_unit("volts", r"[0-9]+\.[0-9]{3}", "V", r"\ ")
            + r",\ *"
            + with_unit("amps", r"[0-9]+\.[0-9]{3}", "A", r"\ ")
            + r",\ [A-Za-z]+",
            {"volts": 1.0, "amps": 1.0},
        ),
        (
            ("1204,5370", "0751,3180"),
            BOTH,
            r"(?P<volts>[+-]?[0-9]{4}),(?P<amps>[+-]?[0-9]+)",
            {"volts": 0.01, "amps": 0.001},
        ),
    ],
)
def test_the_pattern_is_found(
    answers: tuple[str, ...],
    shown: list[Mapping[str, Shown]],
    pattern: str,
    scales: dict[str, float],
) -> None:
    found = find_pattern(answers, shown)
    assert (found.text, dict(found.scales), found.decimal_sign) == (pattern, scales, ".")
    assert all(re.fullmatch(found.text, answer) for answer in answers)


@pytest.mark.parametrize(
    ("answers", "another", "value"),
    [
        # IEEE 488.2-1992, 8.7.4: numbers of form NR3; both settings share a power of ten.
        (("+7.5100E+00,V", "+9.0400E+00,V"), "+1.2340E+01,V", 12.34),
        (("7.51e0V", "9.04e0V"), "12.34e-1V", 1.234),
        (("VOLT 751E-02", "VOLT 904E-02"), "VOLT 1234E-02", 12.34),
    ],
)
def test_an_exponent_is_a_part_of_its_number(
    answers: tuple[str, str], another: str, value: float
) -> None:
    shown = [{"volts": read_shown("7.51")}, {"volts": read_shown("9.04")}]
    found = find_pattern(answers, shown)
    form = LinePattern(re.compile(found.text), Writing(dict(found.scales)))
    assert form.understand(another).numbers["volts"].value == pytest.approx(value)


def test_an_answer_cut_within_its_exponent_does_not_match() -> None:
    shown = [{"volts": read_shown("7.51")}, {"volts": read_shown("9.04")}]
    pattern = re.compile(find_pattern(("+7.5100E+00", "+9.0400E+00"), shown).text)
    assert not any(pattern.fullmatch("+1.2340E+01"[:end]) for end in range(11))


@pytest.mark.parametrize(
    ("answers", "another", "value"),
    [
        # Spaces that fill up, zeros left off, thousandths, hexadecimal digits, a check sum.
        (("V=  7.51", "V= 12.04"), "V=123.40", 123.4),
        (("7.5", "12.04"), "12", 12.0),
        (("7.51 V", "12.04 V"), "850.0 mV", 0.85),
        (("7.51 V", "850 mV"), "12.0 V", 12.0),
        (("02EF", "04B4"), "0BCD", 30.21),
        (("0x2EF", "0x4B4"), "0xBCD", 30.21),
        (("U 7.51*1A", "U 12.04*77"), "U 9.00*0C", 9.0),
        (("+  7.51", "+ 12.04"), "-  0.02", -0.02),
        (("007.51+", "012.04+"), "000.02-", -0.02),
        (('{"v": 7.51, "n": 3}', '{"n": 4, "v": 12.04}'), '{"v": 9}', 9.0),
        (("a b;7.51;", "c;12.04;x"), "d e f;9.00;", 9.0),
        (("\x027.51\x03", "\x0212.04\x03"), "\x029.00\x03", 9.0),
        (("U 7.51\nI 3.3", "U 12.04\nI 3.4"), "U 9.00\nI 0.1", 9.0),
    ],
)
def test_what_changes_with_the_value_is_read_tomorrow(
    answers: tuple[str, str], another: str, value: float
) -> None:
    shown = [{"volts": read_shown("7.51")}, {"volts": read_shown("12.04")}]
    if "850" in answers[1]:
        shown[1] = {"volts": read_shown("0.85")}
    if answers[0] == "7.5":
        shown[0] = {"volts": read_shown("7.50")}
    document: Document = {
        "format": 1, "kind": "lines", "title": "t", "source": "s",
        "answer": [
            {"ask": "V?", **find_pattern(answers, shown).table("p. 1")},
            {"ask": "I?", "pattern": "(?P<amps>[0-9.]+)", "source": "p. 1"},
        ],
    }  # fmt: skip
    with draft(toml_text(document)) as path:
        form = load_lines_description(path).asked[0].form
    assert form.understand(another).numbers["volts"].value == pytest.approx(value)


@pytest.mark.parametrize(
    ("answers", "spoilt"),
    [
        (("7.51 V", "12.04 V"), "1204 V"),
        (("7.51 V", "12.04 V"), "12.0 V"),
        (("007.51 2.00", "012.04 2.00"), "012.042.00"),
        (("V= 7.51", "V= 8.04"), "V= 7.5"),
        (("02EF", "04B4"), "4B4"),
    ],
)
def test_what_lost_a_byte_is_not_read(answers: tuple[str, str], spoilt: str) -> None:
    shown = [
        {"volts": read_shown("7.51")},
        {"volts": read_shown("8.04" if "8.04" in answers[1] else "12.04")},
    ]
    assert re.fullmatch(find_pattern(answers, shown).text, spoilt) is None


def test_a_decimal_comma_is_told() -> None:
    found = find_pattern(("12,04 V", "7,51 V"), VOLTS)
    assert found.decimal_sign == ","
    assert found.text == with_unit("volts", r"[0-9]+,[0-9]{2}", "V", r"\ ", ",")


def test_a_cut_answer_does_not_match() -> None:
    pattern = re.compile(find_pattern(("12.04", "7.51"), VOLTS).text)
    assert not any(pattern.fullmatch("12.04"[:end]) for end in range(5))


def test_a_set_value_beside_the_measured_one_is_ambiguous() -> None:
    with pytest.raises(Ambiguous, match="several numbers"):
        find_pattern(("12.00 12.04", "7.50 7.51"), VOLTS)


def test_a_set_value_that_stays_is_none() -> None:
    found = find_pattern(("12.00 12.04", "12.00 7.51"), VOLTS)
    assert found.text == r"[+-]?[0-9]+\.[0-9]{2}\ +(?P<volts>[+-]?[0-9]+\.[0-9]{2})"


def test_what_is_only_near_is_refused() -> None:
    with pytest.raises(NotCommissioned, match=r"panel showed 12\.04"):
        find_pattern(("12.44", "7.75"), VOLTS)


@pytest.mark.parametrize("answers", [("ERROR", "ERROR"), ("3.30", "3.30"), ("12.04", "OL")])
def test_nothing_that_fits_is_refused(answers: tuple[str, str]) -> None:
    with pytest.raises(NotCommissioned, match="no number in"):
        find_pattern(answers, VOLTS)


@given(
    volts=st.tuples(st.integers(500, 800), st.integers(900, 1500)),
    amps=st.tuples(st.integers(100, 300), st.integers(350, 499)),
    before=st.sampled_from(["", "V=", "OUT: ", "# "]),
    between=st.sampled_from([" ", ";", " V, ", "/"]),
    behind=st.sampled_from(["", " A", " A CV", "!"]),
)
def test_values_come_out_as_they_went_in(
    volts: tuple[int, int], amps: tuple[int, int], before: str, between: str, behind: str
) -> None:
    pairs = list(zip(volts, amps, strict=True))
    answers = [f"{before}{v / 100:.2f}{between}{a / 100:.2f}{behind}" for v, a in pairs]
    shown = [{"volts": Shown(v / 100, 0.01), "amps": Shown(a / 100, 0.01)} for v, a in pairs]
    found = find_pattern(answers, shown)
    for answer, (v, a) in zip(answers, pairs, strict=True):
        match = re.fullmatch(found.text, answer)
        assert match is not None
        assert float(match["volts"]) * found.scales["volts"] == pytest.approx(v / 100)
        assert float(match["amps"]) * found.scales["amps"] == pytest.approx(a / 100)


def test_rule_5_a_word_for_the_state_may_be_another_tomorrow() -> None:
    shown = [{"amps": read_shown("5.37")}, {"amps": read_shown("3.18")}]
    answers = ["I=5.37A CV", "I=3.18A CV"]
    pattern = find_pattern(answers, shown, may_tell_state=True)
    assert pattern.tells_state
    match = re.fullmatch(pattern.text, "I=0.00A TRIP")
    assert match is not None
    assert match["status"] == "TRIP"
    without = find_pattern(answers, shown)
    assert not without.tells_state
    assert re.fullmatch(without.text, "I=0.00A TRIP") is None


def test_rule_5_units_and_names_stay_as_they_are() -> None:
    shown = [{"volts": read_shown("12.0")}, {"volts": read_shown("6.0")}]
    pattern = find_pattern(["VOLT 12.0V", "VOLT 06.0V"], shown, may_tell_state=True)
    assert not pattern.tells_state
    assert re.fullmatch(pattern.text, "AMPS 12.0A") is None


def test_rule_5_a_word_that_says_off_while_current_flows_is_no_state() -> None:
    answers = ("12.04V 5.37A OFF", "7.51V 3.18A OFF")
    assert not find_pattern(answers, BOTH, may_tell_state=True).tells_state
    with pytest.raises(NotCommissioned, match="says that the output is off"):
        find_state("OUT OFF")
