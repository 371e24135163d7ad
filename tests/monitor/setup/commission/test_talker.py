"""A supply that speaks unasked is commissioned without a byte being sent."""

import threading
import time
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import pytest

from drivers.address import parse_address
from drivers.base.clock import SystemClock
from drivers.driver import DriverSetUp
from drivers.lines.talker import Talker
from drivers.reading import Mode
from drivers.registry import open_driver
from tests.drivers.fake_end import PtyEnd
from tests.monitor.setup.commission.ends import MindingSupply, lines_supply
from tests.monitor.setup.commission.panel import PANEL, QUICK, WORDS, Bench, commission

EVERY_S = 0.04


@dataclass
class Speaking:
    """Says its newest line again and again until it is told to stop."""

    end: PtyEnd
    every_s: float = EVERY_S
    line: str = "nothing yet"
    state: str = "CV"
    over: threading.Event = field(default_factory=threading.Event)
    spoke_s: list[float] = field(default_factory=list)

    def turn(self, volts: str, amps: str) -> None:
        self.line = f"OUT {float(volts):06.2f}V,{float(amps):.3f}A,"

    def speak(self) -> None:
        while not self.over.wait(self.every_s):
            self.end.say(f"{self.line}{self.state}\r\n".encode())
            self.spoke_s.append(time.monotonic())


@contextmanager
def speaking(folder: Path, every_s: float = EVERY_S) -> Iterator[Speaking]:
    with PtyEnd(MindingSupply(answers={}), folder / "port") as end:
        one = Speaking(end, every_s)
        one.turn("1.00", "1.00")
        thread = threading.Thread(target=one.speak)
        thread.start()
        try:
            yield one
        finally:
            one.over.set()
            thread.join()


def test_its_pace_and_the_form_of_its_lines_are_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "mine.toml"
    with speaking(tmp_path) as one:
        address = f"lines:{one.end.path}"
        code = commission(
            monkeypatch, Bench(one.turn), address, "--to", str(file), *WORDS, *PANEL, *QUICK
        )
        told = capsys.readouterr().err
        assert code == 0, told
        assert one.end.received == []
        driver = open_driver(
            DriverSetUp(parse_address(address), SystemClock(), 0.2, description=str(file))
        )
        assert isinstance(driver, Talker)
        driver.open()
        reading = driver.read()
        one.state = "CC"
        modes = {driver.read().mode for _ in range(6)}
        one.state = "OL"
        modes |= {driver.read().mode for _ in range(6)}
        driver.close()
    assert (reading.volts, reading.amps) == (7.51, 3.18)
    assert {Mode.CONSTANT_VOLTAGE, Mode.CONSTANT_CURRENT, Mode.UNKNOWN} >= modes
    assert {Mode.CONSTANT_CURRENT, Mode.UNKNOWN} <= modes, "another word is no reason for a gap"
    assert "names a word for a cut-out, add it to cut_out in [status]" in told
    made = tomllib.loads(file.read_text(encoding="utf-8"))
    # A busy machine lets it speak, and be heard, at times that are not quite its own.
    pauses_s = [later - earlier for earlier, later in pairwise(one.spoke_s)]
    assert min(pauses_s) / 2 <= made["talk"]["speaks_every_s"] <= 2 * max(pauses_s)
    assert made["answer"][0]["pattern"].startswith(r"OUT\ *(?P<volts>[+-]?[0-9]{3}\.[0-9]{2}|")
    seen = made["commissioned"]["seen"]
    assert [one["asked"] for one in seen] == ["unasked", "unasked"]
    assert bytes.fromhex(seen[1]["raw"]) == b"OUT 007.51V,3.180A,CV"
    assert seen[1]["shown"] == "7.51 V, 3.18 A"


def test_its_lines_are_never_taken_for_answers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with speaking(tmp_path) as one:
        code = commission(
            monkeypatch, Bench(one.turn), f"lines:{one.end.path}", "--to", str(tmp_path / "m.toml"),
            *WORDS, *PANEL, *QUICK, "--ask-volts", "V?", "--ask-amps", "I?",
        )  # fmt: skip
        assert one.end.received == []
    assert code == 1
    assert "it speaks by itself. Name no question" in capsys.readouterr().err


def test_one_that_says_nothing_by_itself_needs_a_question(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    supply, turn = lines_supply(b"\r", b"\r\n")
    with PtyEnd(supply, tmp_path / "port") as end:
        line = (f"lines:{end.path}", "--to", str(tmp_path / "m.toml"), *WORDS, *PANEL)
        assert commission(monkeypatch, Bench(turn), *line, *QUICK) == 1
        assert "needs --ask-volts and --ask-amps" in capsys.readouterr().err
        assert commission(monkeypatch, Bench(turn), *line, *QUICK, "--ask-amps", "I?") == 2
        assert "--ask-amps needs --ask-volts" in capsys.readouterr().err
        assert end.received == []
