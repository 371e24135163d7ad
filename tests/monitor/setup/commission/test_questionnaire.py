"""The questions of `commission`: which are put, what is a valid answer, and that none is lost."""

import tomllib
from pathlib import Path

import pytest

from monitor.base.errors import WrongUse
from monitor.setup.commission.questionnaire import (
    BY_KEY,
    LINES,
    MODBUS,
    QUESTIONS,
    SCPI,
    Need,
    Question,
    ask_all,
)
from tests.drivers.fake_end import PtyEnd
from tests.monitor.setup.commission.panel import PANEL, QUICK, WORDS, Typist, commission, modbus

COMMON = {"operator": "Jo", "title": "Old supply", "source": "page 12"}
VALID = {
    "volts_at": "40001",
    "amps_at": "0x0002",
    "status_at": "40003",
    "states": "off, CV",
    "cut_out_by": "bit 5",
    "ask_volts": "V?",
    "ask_amps": "I?",
}


def answered(question: Question) -> str:
    return {**COMMON, **VALID}.get(question.key, "")


@pytest.mark.parametrize("kind", [MODBUS, LINES, SCPI])
def test_a_person_is_asked_all_that_no_option_answers(kind: str) -> None:
    put: list[str] = []

    def type_in(question: Question) -> str:
        put.append(question.key)
        return answered(question)

    answers = ask_all(kind, {"operator": "Al"}, type_in)
    wanted = [one.key for one in QUESTIONS[kind] if one.need is not Need.GIVEN]
    assert put == wanted[1:]
    assert answers.keys() == BY_KEY.keys()
    assert answers["operator"] == "Al"


def test_nobody_is_asked_for_what_the_answer_before_makes_pointless() -> None:
    put: list[str] = []

    def type_in(question: Question) -> str:
        put.append(question.key)
        return "" if question.key in ("ask_volts", "status_at") else answered(question)

    ask_all(LINES, COMMON, type_in)
    ask_all(MODBUS, COMMON, type_in)
    assert {"ask_amps", "ask_state", "ask_identity", "states", "cut_out_by"}.isdisjoint(put)


@pytest.mark.parametrize(
    ("kind", "given", "says"),
    [
        (SCPI, {"title": ""}, "Make and model of the supply: give --title, or title in --answers"),
        (SCPI, {"rated_volts": "many"}, "--rated-volts: 'many': type a number"),
        (SCPI, {"rated_volts": "0"}, "--rated-volts: '0': type a number from 0.1"),
        (SCPI, {"ask_volts": "VOLT 12"}, "--ask-volts"),
        (MODBUS, {"volts_at": "4000x"}, "--volts-at: register '4000x'"),
        (MODBUS, {**VALID, "type": "int8"}, "--type: 'int8': type one of int16"),
        (MODBUS, {**VALID, "status_at": ""}, "--states needs --status-at"),
        (MODBUS, {**VALID, "status_by": "lamps"}, "--status-by: 'lamps': type one of values, bits"),
        (MODBUS, {**VALID, "states": "CV"}, "--states"),
        (LINES, {"ask_volts": "V?"}, "give --ask-amps"),
        (LINES, {"ask_state": "ST"}, "--ask-state needs --ask-volts"),
    ],
)
def test_an_answer_that_is_wrong_or_missing_is_named(
    kind: str, given: dict[str, str], says: str
) -> None:
    with pytest.raises(WrongUse, match=says):
        ask_all(kind, {**COMMON, **given}, None)


def test_answers_are_kept_in_one_spelling() -> None:
    answers = ask_all(
        MODBUS, {**COMMON, **VALID, "type": "INT32", "order": "cdab", "rated_amps": "20,5 A"}, None
    )
    assert (answers["type"], answers["order"], answers["rated_amps"]) == ("int32", "CDAB", "20.5")


def test_a_wrong_answer_is_asked_again_and_no_answer_is_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two slips of the keyboard, then a panel that shows something else: all but it is kept."""
    supply, turn = modbus(function=3)
    turn("12.04", "5.37")
    file, kept = tmp_path / "mine.toml", tmp_path / "mine.answers.toml"
    typed = ["Jo", "", "Old supply", "manual, page 12", "much", "15", "20", "4001x", "40011",
             "40013", "", "", "", ""]  # fmt: skip
    with PtyEnd(supply, tmp_path / "port") as end:
        line = (f"modbus:{end.path}?unit=5&parity=none", "--to", str(file), *QUICK, "--type",
                "uint32", "--order", "CDAB")  # fmt: skip
        wrong_panel = ["twelve", "12.04", "5.37", "3.00", "1.00"]
        assert commission(monkeypatch, Typist([*typed, *wrong_panel]), *line) == 1
        told = capsys.readouterr().err
        assert "register '4001x'" in told
        assert "'much': type a number" in told
        assert "'twelve': type the number as the panel shows it" in told
        assert f"add: --answers {kept}" in told
        assert not file.exists()
        answers = tomllib.loads(kept.read_text(encoding="utf-8"))
        assert (answers["volts_at"], answers["rated_volts"]) == ("40011", "15")
        assert (answers["type"], answers["order"]) == ("uint32", "CDAB")

        class Turning(Typist):
            """Turns the panel before the second setting is typed."""

            def readline(self) -> str:
                if len(self.lines) == 2:
                    turn("7.51", "3.18")
                return super().readline()

        at_panel = Turning(["12.04", "5.37", "7.51", "3.18"])
        assert commission(monkeypatch, at_panel, *line[:5], "--answers", str(kept)) == 0
    made = tomllib.loads(file.read_text(encoding="utf-8"))
    assert made["ratings"] == {"volts": 15.0, "amps": 20.0}
    assert made["volts"]["type"] == "uint32"


def test_a_fact_of_the_manual_is_asked_again_until_it_is_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    supply, turn = modbus(function=3)
    turn("12.04", "5.37")
    file = tmp_path / "mine.toml"

    class Turning(Typist):
        """Turns the panel when asked for the second setting."""

        def readline(self) -> str:
            if len(self.lines) == 6:
                turn("7.51", "3.18")
            return super().readline()

    lines = ["12.04", "5.37", "7.51", "3.18", "uint32", "type uint9", "Type UINT32", "order cdab"]
    with PtyEnd(supply, tmp_path / "port") as end:
        code = commission(
            monkeypatch, Turning(lines), f"modbus:{end.path}?unit=5&parity=none", "--to", str(file),
            *WORDS, *QUICK, "--volts-at", "40011", "--amps-at", "40013", "--rated-volts", "",
            "--rated-amps", "", "--scale-at", "", "--celsius-at", "", "--identity-at", "",
            "--status-at", "",
        )  # fmt: skip
    told = capsys.readouterr().err
    assert "'uint32': type one of function, type, order, offset, volts_type," in told
    assert "'uint9': type one of int16" in told
    assert code == 0, told
    assert tomllib.loads(file.read_text(encoding="utf-8"))["volts"]["type"] == "uint32"


def test_a_panel_that_cannot_be_read_is_refused_before_the_port_is_touched(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    supply, _ = modbus(function=3)
    with PtyEnd(supply, tmp_path / "port") as end:
        line = (f"scpi:{end.path}", "--to", str(tmp_path / "mine.toml"), *WORDS)
        line += ("--rated-volts", "", "--rated-amps", "")
        for panel, says in (
            (["--panel", "twelve", "5.37", *PANEL[:3]], "type the number as the panel shows it"),
            (PANEL[:3], "two settings are needed"),
        ):
            assert commission(monkeypatch, Typist([]), *line, *panel) == 2
            assert says in capsys.readouterr().err
    assert supply.received == []
