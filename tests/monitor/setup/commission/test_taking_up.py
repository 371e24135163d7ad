"""No answer is lost: a failure, a cable that came off and a second try take up what was typed."""

import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.drivers.fake_end import PtyEnd
from tests.monitor.setup.commission.ends import lines_supply
from tests.monitor.setup.commission.panel import QUICK, Typist, commission

ASKED = ("--ask-volts", "V?", "--ask-amps", "I?", "--ask-state", "", "--ask-identity", "")
FACTS = ["Jo", "Old supply", "manual, page 12", "15", "20"]


class Hands(Typist):
    """Types, and does something before a line that is written as (line, deed)."""

    def __init__(self, lines: list[str | tuple[str, Callable[[], None]]]) -> None:
        super().__init__([line if isinstance(line, str) else line[0] for line in lines])
        self.deeds = [None if isinstance(line, str) else line[1] for line in lines]

    def readline(self) -> str:
        if self.deeds and (deed := self.deeds.pop(0)) is not None:
            deed()
        return super().readline()


def test_after_a_failure_one_answer_is_changed_and_the_rest_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    supply, turn = lines_supply(b"\r", b"\r\n")
    turn("12.04", "5.37")
    file = tmp_path / "mine.toml"
    hands = Hands(
        [
            *FACTS,
            *("12.04", "5.37", ("7.51", lambda: turn("7.51", "3.18")), "9.99"),
            "operater",
            ("again", lambda: turn("12.04", "5.37")),
            *("12.04", "5.37", ("7.51", lambda: turn("7.51", "3.18")), "3.18"),
        ]
    )
    with PtyEnd(supply, tmp_path / "port") as end:
        line = (f"lines:{end.path}", "--to", str(file), *QUICK, *ASKED)
        assert commission(monkeypatch, hands, *line) == 0
    told = capsys.readouterr().err
    assert "'operater': type again, or one of operator, title" in told
    assert tomllib.loads(file.read_text(encoding="utf-8"))["ratings"] == {"volts": 15, "amps": 20}
    assert not (tmp_path / "mine.answers.toml").exists()


def test_a_second_try_takes_up_the_answers_of_the_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    supply, turn = lines_supply(b"\r", b"\r\n")
    turn("12.04", "5.37")
    file, kept = tmp_path / "mine.toml", tmp_path / "mine.answers.toml"
    with PtyEnd(supply, tmp_path / "port") as end:
        line = (f"lines:{end.path}", "--to", str(file), *QUICK, *ASKED)
        assert commission(monkeypatch, Hands([*FACTS, "12.04"]), *line) != 0
        assert tomllib.loads(kept.read_text(encoding="utf-8"))["title"] == "Old supply"
        assert not file.exists()
        hands = Hands(["12.04", "5.37", ("7.51", lambda: turn("7.51", "3.18")), "3.18"])
        assert commission(monkeypatch, hands, *line[:3], *QUICK) == 0
    assert f"The answers of the last try are taken from {kept}" in capsys.readouterr().err
    assert tomllib.loads(file.read_text(encoding="utf-8"))["title"] == "Old supply"


def test_a_cable_that_came_off_is_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    supply, turn = lines_supply(b"\r", b"\r\n")
    turn("12.04", "5.37")
    file = tmp_path / "mine.toml"
    with PtyEnd(supply, tmp_path / "port") as end:

        def yank() -> None:
            turn("7.51", "3.18")
            with end.lock:
                end.unplug()

        def plug() -> None:
            with end.lock:
                end.plug_in()

        hands = Hands([*FACTS, "12.04", "5.37", "7.51", ("3.18", yank), ("y", plug)])
        line = (f"lines:{end.path}", "--to", str(file), *QUICK, *ASKED)
        assert commission(monkeypatch, hands, *line) == 0, capsys.readouterr().err
    assert "read with it now: 7.51 V, 3.18 A" in capsys.readouterr().err


def test_the_operator_points_at_the_measured_value(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Set 12.00 and 7.50, measured 12.04 and 7.51: both are what the panel may show."""
    supply, _ = lines_supply(b"\r", b"\r\n")
    answers = dict(supply.answers)
    supply.answers = answers

    def turn(volts: str, amps: str) -> None:
        answers["V?"] = answers["I?"] = f"{float(volts):.1f}0 {volts} 10.00 {amps}"

    turn("12.04", "5.37")
    file = tmp_path / "mine.toml"
    hands = Hands(
        [
            *FACTS,
            *("12.04", "5.37", ("7.51", lambda: turn("7.51", "3.18")), "3.18"),
            *("3", "2"),
        ]
    )
    asked = ("--ask-volts", "V?", "--ask-amps", "V?", "--ask-state", "", "--ask-identity", "")
    with PtyEnd(supply, tmp_path / "port") as end:
        line = (f"lines:{end.path}", "--to", str(file), *QUICK, *asked)
        assert commission(monkeypatch, hands, *line) == 0, capsys.readouterr().err
    told = capsys.readouterr().err
    assert "2: volts: 12.00 >>12.04<< 10.00 5.37" in told
    assert "'3': type a number from 1 to 2" in told
    assert "read with it now: 7.51 V, 3.18 A" in told
