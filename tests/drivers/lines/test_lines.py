"""The driver for plain lines: its promises, descriptions and answers, and who talks unasked."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import (
    BadDescription,
    GarbledAnswer,
    NoAnswer,
    NotUnderstood,
    QuestionRefused,
    SupplySilent,
    SupplyUnreadable,
    WrongSupply,
)
from drivers.lines.line_question import LineQuestion, typed_question
from drivers.lines.lines import LinesDriver, open_lines
from drivers.lines.lines_description import LinesDescription, load_lines_description
from drivers.lines.talker import Talker
from drivers.link.asking_link import AskingLink
from drivers.promises import PROMISES, TIMEOUT_S, Fault, Promise
from drivers.reading import Mode
from drivers.text.conversation import Conversation
from drivers.text.text_question import wires
from tests.clock import HandClock
from tests.drivers.fake_end import FakeEnd, PtyEnd, TcpEnd
from tests.drivers.fake_link import FakeLink
from tests.drivers.fake_speaker import APART, PAIR, SILENT_END, FakeSpeaker
from tests.drivers.spoiling import Piece

KINDS = {"pair": (PAIR, True), "apart": (APART, True), "silent-end": (SILENT_END, False)}


ENDS = [("pair", "pty"), ("apart", "tcp"), ("silent-end", "pty")]


@pytest.fixture(params=ENDS, ids="-".join)
def end(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[FakeEnd]:
    kind, link = request.param
    text, hears_ends = KINDS[kind]
    description = tmp_path / "supply.toml"
    description.write_text(text)
    supply = FakeSpeaker(late_s=1.5 * TIMEOUT_S, hears_ends=hears_ends)
    supply.ends_with = b"\r\n" if hears_ends else b""
    made = PtyEnd(supply, tmp_path / "port") if link == "pty" else TcpEnd(supply)
    made.driver = "lines"
    made.options = f"?quiet_ms=10&description={description}"
    with made:
        yield made


@pytest.mark.parametrize("promise", PROMISES, ids=str)
def test_the_lines_driver_keeps_its_promises(promise: Promise, end: FakeEnd) -> None:
    promise.check(open_lines, end)


def load(tmp_path: Path, text: str) -> LinesDescription:
    path = tmp_path / "mine.toml"
    path.write_text(text)
    return load_lines_description(str(path))


def driver(
    tmp_path: Path, text: str, supply: FakeSpeaker
) -> tuple[LinesDriver, HandClock, FakeLink]:
    description = load(tmp_path, text)
    clock = HandClock()
    link = FakeLink(supply, clock)
    conversation = Conversation(
        AskingLink(link, wires(description.questions)),
        clock,
        0.1,
        0.02,
        "lines:fake",
        idle_s=description.idle_s,
        has_sentinel=description.sentinel is not None,
    )
    return LinesDriver(conversation, description), clock, link


def test_a_first_digit_that_may_be_lost_is_suspect(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    supply = FakeSpeaker()
    asked, _, _ = driver(tmp_path, PAIR, supply)
    asked.open()
    whole = {"SN": "SN 000042", "READ": "12.31 V, 4.07 A, CV"}
    monkeypatch.setattr(supply, "one", whole.get)
    assert asked.read().doubt is None
    monkeypatch.setattr(supply, "one", {**whole, "READ": "?"}.get)
    with pytest.raises(GarbledAnswer):
        asked.read()
    monkeypatch.setattr(supply, "one", {**whole, "READ": "2.34 V, 4.07 A, CV"}.get)
    reading = asked.read()
    assert reading.volts == 2.34
    assert reading.doubt == "volts 2.34 right after line trouble: 12.31 less a digit?"


def test_a_pair_in_one_answer_belongs_together(tmp_path: Path) -> None:
    supply = FakeSpeaker()
    asked, _, _ = driver(tmp_path, PAIR, supply)
    assert asked.open().text == "SN 000042"
    reading = asked.read()
    assert (reading.volts, reading.amps) == tuple(
        supply.newest[name].value for name in ("volts", "amps")
    )
    assert reading.apart_s == 0.0
    assert reading.mode is Mode.CONSTANT_VOLTAGE
    supply.state = "TRIP"
    assert asked.read().mode is Mode.UNKNOWN, "current flows: it has not cut out"
    supply.state = "OFF"
    assert asked.read().mode is Mode.UNKNOWN, "current flows: it is not off"


def test_two_questions_say_how_far_apart_their_answers_are(tmp_path: Path) -> None:
    asked, _, _ = driver(tmp_path, APART, FakeSpeaker(delay_s=(0.03, 0.03)))
    asked.open()
    assert asked.read().apart_s == pytest.approx(0.03, abs=1e-6)


@pytest.mark.parametrize("text", [PAIR, APART])
def test_a_late_answer_is_never_taken_for_the_next_one(tmp_path: Path, text: str) -> None:
    supply = FakeSpeaker(late_s=0.15)
    asked, _, _ = driver(tmp_path, text, supply)
    asked.open()
    for _ in range(20):
        supply.fault = Fault.LATE
        with pytest.raises((NoAnswer, SupplySilent)):
            asked.read()
        supply.fault = Fault.NONE
        for _ in range(9):
            before = len(supply.given)
            try:
                reading = asked.read()
            except NoAnswer:
                continue
            own = [each.value for each in supply.given[before:]]
            assert reading.volts in own
            assert reading.amps in own


def test_another_supply_is_noticed(tmp_path: Path) -> None:
    class Other(FakeSpeaker):
        serial = "SN 000042"

        def one(self, part: str) -> str | None:
            return self.serial if part == "SN" else super().one(part)

    supply = Other()
    asked, _, _ = driver(tmp_path, PAIR, supply)
    asked.open()
    supply.serial = "SN 000043"
    with pytest.raises(WrongSupply, match="000043"):
        asked.open()


def test_an_answer_that_may_be_cut_unseen_is_refused(tmp_path: Path) -> None:
    text = SILENT_END.replace("(?P<volts>[0-9.]+)V", "(?P<volts>[0-9.]+)")
    supply = FakeSpeaker(hears_ends=False)
    supply.ends_with = b""
    supply.one = lambda part: {"SN": "SN 000042", "V?": "V=12.34"}.get(part)  # type: ignore[method-assign]  # one answer of another form
    asked, _, _ = driver(tmp_path, text, supply)
    with pytest.raises(BadDescription, match="cut short"):
        asked.open()


# What a plain text does is known to nobody but its manual: these look like settings.
@pytest.mark.parametrize(
    "text",
    ["V 12", "VSET 12.0", "V=12", "OUT1", "OUT ON", "ON", "RESET", "*RST", "SAVE", "I10", "A1", ""],
)
def test_what_could_set_something_is_no_question(text: str) -> None:
    with pytest.raises(QuestionRefused):
        LineQuestion(text)


@pytest.mark.parametrize(
    "text",
    [
        "REBOOT",
        "FACTORY",
        "SHUTDOWN",
        "UP",
        "DOWN",
        "STBY",
        "GETD",
        "*",
        "READ UP",
        "D",
        "BEEP",
        "X",
    ],
)
def test_what_is_not_known_to_ask_needs_the_user_s_word(tmp_path: Path, text: str) -> None:
    with pytest.raises(QuestionRefused, match="write i_have_checked"):
        LineQuestion(text)
    assert LineQuestion(text, i_have_checked=True).wire == f"{text}\n".encode()
    assert typed_question(f"{text} (checked)") == LineQuestion(text, i_have_checked=True)
    described = PAIR.replace('ask = "READ"', f'ask = "{text}"')
    with pytest.raises(BadDescription, match="i_have_checked"):
        load(tmp_path, described)
    supply = FakeSpeaker()
    checked = described.replace(f'ask = "{text}"', f'ask = "{text}"\ni_have_checked = true')
    asked, _, _ = driver(tmp_path, checked, supply)
    assert [repr(text) in notice for notice in asked.notices] == [True]


@pytest.mark.parametrize("text", ["VSET 12.0", "OUT ON", "V=12", "*RST"])
def test_what_sets_is_refused_whatever_the_user_says(text: str) -> None:
    with pytest.raises(QuestionRefused):
        LineQuestion(text, i_have_checked=True)


@pytest.mark.parametrize(
    "text", ["V?", "V1?", "READ", "*IDN?", "GET DATA", "a", "ST V1?", "MEAS:V?", "SN"]
)
def test_plain_questions_pass(text: str) -> None:
    assert LineQuestion(text, "CR LF").wire == text.encode() + b"\r\n"


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('ask = "READ"', 'ask = "OUT ON"', "could set or switch"),
        ("(?P<volts>[0-9.]+)", "[0-9.]+", "volts"),
        ("(?P<amps>", "(?P<ampere>", "ampere"),
        ("(?P<amps>", "(?P<amps", "pattern"),
        ('question_ends_with = "CR"', 'question_ends_with = "CRLF"', "CR LF"),
        ('cut_out = ["TRIP"]', "cut_out = 4", "cut_out"),
        ('question_ends_with = "CR"', "speaks_every_s = 1.0", "unasked"),
    ],
)
def test_what_cannot_be_is_refused_by_name(tmp_path: Path, old: str, new: str, says: str) -> None:
    assert old in PAIR
    with pytest.raises(BadDescription) as caught:
        load(tmp_path, PAIR.replace(old, new))
    assert says in str(caught.value)


def test_a_decimal_comma_is_read_only_where_it_is_declared(tmp_path: Path) -> None:
    text = PAIR.replace("[0-9.]+", "[0-9.,]+")
    plain = load(tmp_path, text).asked[0].form
    with pytest.raises(NotUnderstood):
        plain.understand("12,5 V, 3,2 A, CV")
    comma = load(tmp_path, text.replace('with = "CR"', 'with = "CR"\ndecimal_sign = ","'))
    form = comma.asked[0].form
    assert form.understand("12,5 V, 3,2 A, CV").numbers["volts"].value == 12.5
    with pytest.raises(NotUnderstood):
        form.understand("12.5 V, 3,2 A, CV")


@given(text=st.text(max_size=40))
def test_no_rubbish_becomes_a_value(text: str) -> None:
    form = load_lines_description("lines-dc-supply").asked[0].form
    try:
        said = form.understand(text)
    except NotUnderstood:
        return
    assert text.startswith("V=")
    assert said.numbers["volts"].value == float(text[2:])


TALKER = r"""
format = 1
kind = "lines"
title = "speaks once a second"
source = "invented"
[talk]
speaks_every_s = 1.0
[[answer]]
pattern = '(?P<volts>[0-9.]+);(?P<amps>[0-9.]+)'
source = "invented"
"""


def talker(tmp_path: Path, lines: list[tuple[float, bytes]]) -> tuple[Talker, HandClock, FakeLink]:
    clock = HandClock()
    link = FakeLink(FakeSpeaker(), clock)
    for after_s, data in lines:
        link.send(Piece(after_s, data))
    return (
        Talker(AskingLink(link, frozenset()), clock, load(tmp_path, TALKER), 1.0, "lines:fake"),
        clock,
        link,
    )


def test_the_newest_whole_line_wins(tmp_path: Path) -> None:
    lines = [(0.1, b"2.0;9.9\r\n"), (0.2, b"1.0;1.0\n"), (1.2, b"2.0;2.0\n"), (1.3, b"3.0;3.0\n3.")]
    asked, clock, _ = talker(tmp_path, lines)
    asked.open()
    clock.wait(1.2)
    assert asked.read().volts == 3.0


def test_the_first_line_may_have_lost_its_beginning(tmp_path: Path) -> None:
    asked, _, link = talker(tmp_path, [(0.1, b"2.5;1.0\n"), (1.1, b"12.5;1.0\n")])
    asked.open()
    link.send(Piece(0.5, b"12.6;1.0\n"))
    assert asked.read().volts == 12.6


def test_what_has_waited_too_long_is_thrown_away(tmp_path: Path) -> None:
    asked, clock, link = talker(tmp_path, [(0.1, b"x\n"), (0.2, b"1.0;1.0\n")])
    asked.open()
    link.send(Piece(0.1, b"2.0;2.0\n"))
    clock.wait(30.0)
    link.send(Piece(0.5, b"0.0;3.0\n"))  # behind what was thrown away: may have lost its beginning
    link.send(Piece(1.5, b"4.0;4.0\n"))
    assert asked.read().volts == 4.0


def test_what_comes_after_a_silence_is_suspect_until_it_speaks_at_its_pace_again(
    tmp_path: Path,
) -> None:
    asked, _, link = talker(tmp_path, [(0.1, b"x\n"), (0.2, b"1.0;1.0\n")])
    asked.open()
    for after_s, volts, is_suspect in (
        (1.0, "2.0", False),
        (2.0, "2.1", False),  # one line lost
        (3.6, "2.1", True),  # held back on the way, or the last one once more
        (1.0, "2.2", False),
    ):
        link.send(Piece(after_s, f"{volts};1.0\n".encode()))
        while True:
            try:
                reading = asked.read()
            except NoAnswer:
                continue
            break
        assert reading.volts == float(volts)
        assert (reading.doubt is not None) == is_suspect, after_s


def test_one_that_has_slowed_down_is_soon_believed_again(tmp_path: Path) -> None:
    asked, _, link = talker(tmp_path, [(0.1, b"x\n"), (0.2, b"1.0;1.0\n")])
    asked.open()
    doubts = []
    for _ in range(20):
        link.send(Piece(2.6, b"2.0;1.0\n"))
        while True:
            try:
                doubts.append(asked.read().doubt)
            except NoAnswer:
                continue
            break
    assert doubts[0] is not None
    assert not any(doubts[-10:])


def test_lines_that_were_passed_over_between_two_polls_are_no_silence(tmp_path: Path) -> None:
    asked, clock, link = talker(tmp_path, [(0.1, b"x\n"), (0.2, b"1.0;1.0\n")])
    asked.open()
    for second in range(1, 9):
        link.send(Piece(float(second), b"2.0;2.0\n"))
    clock.wait(5.5)
    reading = asked.read()
    assert reading.volts == 2.0
    assert reading.doubt is None


def test_one_that_stops_talking_is_no_answer_and_then_a_new_opening(tmp_path: Path) -> None:
    asked, _, _ = talker(tmp_path, [(0.1, b"x\n"), (0.2, b"1.0;1.0\n")])
    asked.open()
    for expected in (NoAnswer, NoAnswer, SupplySilent):
        with pytest.raises(expected, match="said nothing"):
            asked.read()


def test_one_that_says_something_else_is_unreadable(tmp_path: Path) -> None:
    asked, _, _ = talker(tmp_path, [(0.1, b"x\n"), (0.2, b"Zq9;;\n")])
    with pytest.raises(SupplyUnreadable):
        asked.open()
    asked, _, link = talker(tmp_path, [(0.1, b"x\n"), (0.2, b"1.0;1.0\n")])
    asked.open()
    link.send(Piece(0.1, b"1.0;1.0;1.0\n"))
    with pytest.raises(GarbledAnswer):
        asked.read()


def test_nothing_is_ever_sent_to_a_talker(tmp_path: Path) -> None:
    asked, _, link = talker(tmp_path, [(0.1, b"x\n"), (0.2, b"1.0;1.0\n")])
    asked.open()
    assert link.supply.received == []
    with pytest.raises(QuestionRefused):
        asked.link.write(b"V?\r", 0)
