"""`commission` for supplies that speak plain lines or SCPI, end to end on pseudo-terminals."""

import tomllib
from pathlib import Path

import pytest

from monitor.commands.main import run
from tests.drivers.fake_end import PtyEnd
from tests.drivers.fake_supply import FakeSupply
from tests.monitor.setup.commission.ends import lines_supply
from tests.monitor.setup.commission.panel import PANEL, QUICK, STATE, WORDS, Bench, commission


@pytest.mark.parametrize(
    ("asked_with", "answered_with"), [(b"\r", b"\r\n"), (b"\n", b"\n"), (b"", b"")]
)
def test_a_plain_line_supply_is_commissioned_and_read(
    asked_with: bytes,
    answered_with: bytes,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    supply, turn = lines_supply(asked_with, answered_with)
    file = tmp_path / "mine.toml"
    with PtyEnd(supply, tmp_path / "port") as end:
        code = commission(
            monkeypatch, Bench(turn), f"lines:{end.path}", "--to", str(file), *WORDS, *PANEL,
            *QUICK, "--ask-volts", "V?", "--ask-amps", "I?", "--ask-identity", "SN",
        )  # fmt: skip
    told = capsys.readouterr().err
    assert code == 0, told
    assert "read with it now: 7.51 V, 3.18 A" in told
    made = tomllib.loads(file.read_text(encoding="utf-8"))
    assert [one["pattern"] for one in made["answer"]] == [
        r"V=(?P<volts>[+-]?[0-9]{2}\.[0-9]{2})",
        r"I=(?P<amps>[+-]?[0-9]+\.[0-9]{3}|[+-]?[0-9]+(?:\.[0-9]+)?(?=mA))(?P<amps_unit>m?A)\ "
        + (STATE if answered_with else "CV"),
    ]
    assert ("7.51 V, 3.18 A, constant-voltage" in told) == bool(answered_with)
    assert made["talk"]["question_ends_with"] == {b"\r": "CR"}.get(asked_with, "LF")
    assert bytes.fromhex(made["commissioned"]["seen"][-2]["raw"]).startswith(b"V=07.51")


@pytest.mark.parametrize(("word", "code"), [("CC", 0), ("HUMMING", 1)])
def test_a_question_of_its_own_for_the_state_is_understood_or_told(
    word: str,
    code: int,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    supply, turn = lines_supply(b"\r", b"\r\n")
    answers = dict(supply.answers)
    supply.answers = answers

    def turn_too(volts: str, amps: str) -> None:
        turn(volts, amps)
        answers.update({"V?": f"V={float(volts):05.2f}", "I?": f"I={float(amps):.3f}A CV"})

    answers["READ"] = f"STATE {word}"
    file = tmp_path / "mine.toml"
    with PtyEnd(supply, tmp_path / "port") as end:
        found = commission(
            monkeypatch, Bench(turn_too), f"lines:{end.path}", "--to", str(file), *WORDS, *PANEL,
            *QUICK, "--ask-volts", "V?", "--ask-amps", "I?", "--ask-state", "READ",
        )  # fmt: skip
    told = capsys.readouterr().err
    assert found == code, told
    if code:
        assert "no word in 'STATE HUMMING' is one for a state" in told
        return
    assert "read with it now: 7.51 V, 3.18 A, constant-current" in told
    made = tomllib.loads(file.read_text(encoding="utf-8"))
    assert made["answer"][2]["pattern"] == rf"STATE\ {STATE}"
    assert made["status"]["output_off"] == ["OFF"]


def test_a_state_is_not_read_out_of_answers_without_an_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    supply, turn = lines_supply(b"", b"")
    with PtyEnd(supply, tmp_path / "port") as end:
        code = commission(
            monkeypatch, Bench(turn), f"lines:{end.path}", "--to", str(tmp_path / "m.toml"),
            *WORDS, *PANEL, *QUICK, "--ask-volts", "V?", "--ask-amps", "I?", "--ask-state", "READ",
        )  # fmt: skip
    assert code == 1
    assert "leave the question for the state out" in capsys.readouterr().err
    assert not (tmp_path / "m.toml").exists()


def test_a_question_that_could_set_something_is_refused_before_a_byte_is_sent(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    supply, turn = lines_supply(b"\n", b"\n")
    with PtyEnd(supply, tmp_path / "port") as end:
        code = commission(
            monkeypatch, Bench(turn), f"lines:{end.path}", "--to", str(tmp_path / "m.toml"),
            *WORDS, *PANEL, "--ask-volts", "VSET 12", "--ask-amps", "I?",
        )  # fmt: skip
    assert code == 2
    assert supply.received == []


def test_a_scpi_supply_is_commissioned_and_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    supply = FakeSupply(joins=False, lacks=frozenset({"STAT:OPER:COND?"}))

    def turn(volts: str, amps: str) -> None:
        supply.volts, supply.amps = volts, amps

    turn("1.00", "1.00")
    file = tmp_path / "mine.toml"
    with PtyEnd(supply, tmp_path / "port") as end:
        code = commission(
            monkeypatch, Bench(turn), f"scpi:{end.path}?quiet_ms=10", "--to", str(file), *WORDS,
            *PANEL, "--rated-volts", "15", *QUICK,
        )  # fmt: skip
        told = capsys.readouterr().err
        assert code == 0, told
        assert run(["check", f"scpi:{end.path}", "--description", str(file)]) == 0
    made = tomllib.loads(file.read_text(encoding="utf-8"))
    assert made["talk"]["together"] == "never"
    assert [one["ask"] for one in made["status"]] == ["STAT:QUES:COND?", "OUTP?"]
    assert made["ratings"] == {"volts": 15.0}


def test_a_scpi_supply_that_says_another_value_than_its_panel_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    supply = FakeSupply(volts="11.00", amps="5.37")
    with PtyEnd(supply, tmp_path / "port") as end:
        code = commission(
            monkeypatch, Bench(lambda volts, amps: None), f"scpi:{end.path}?quiet_ms=10",
            "--to", str(tmp_path / "mine.toml"), *WORDS, *PANEL, *QUICK,
        )  # fmt: skip
    assert code == 1
    assert "says 11 for volts where its panel shows 12.04" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (["modbus:/dev/null", "--to", "mine.toml"], "Your name: give --operator"),
        (["modbus:/dev/null", "--to", "m.toml", *WORDS], "Register of the measured volts"),
        (["other:/dev/null", "--to", "mine.toml"], "cannot be commissioned"),
        (["/dev/null", "--to", "mine.toml"], "not a supply's address"),
        (["modbus:/dev/null"], "--to"),
    ],
)
def test_wrong_use_is_told(
    line: list[str], says: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert commission(monkeypatch, Bench(lambda volts, amps: None), *line) == 2
    assert says in capsys.readouterr().err


def test_a_file_that_is_there_is_not_written_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "mine.toml"
    file.write_text("precious", encoding="utf-8")
    assert run(["commission", "modbus:/dev/null", "--to", str(file)]) == 2
    assert "--replace" in capsys.readouterr().err
    assert file.read_text(encoding="utf-8") == "precious"
