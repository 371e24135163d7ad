"""Somebody at a supply's front panel who answers `commission`."""

import sys
from collections.abc import Callable
from dataclasses import dataclass

import pytest

from monitor.commands.main import run
from tests.monitor.setup.commission.ends import RegisterSupply

SETTINGS = (("12.04", "5.37"), ("7.51", "3.18"))
WORDS = ["--operator", "Jo", "--title", "Old supply", "--source", "manual, page 12"]
PANEL = [word for setting in SETTINGS for word in ("--panel", *setting)]
QUICK = ["--timeout-s", "0.5"]
"""Each silence costs as much, and a busy machine may take some of it to answer."""
STATE = "(?P<status>[A-Za-z]+)"


@dataclass
class Bench:
    """Somebody at the front panel: each Enter comes when the next setting is there.

    Parameters
    ----------
    states
        What is done after the settings, one at each Enter.
    """

    turn: Callable[[str, str], None]
    settings: tuple[tuple[str, str], ...] = SETTINGS
    states: tuple[Callable[[], None], ...] = ()
    turned: int = 0

    def readline(self) -> str:
        turned, self.turned = self.turned, self.turned + 1
        if turned < len(self.settings):
            self.turn(*self.settings[turned])
        elif turned < len(self.settings) + len(self.states):
            self.states[turned - len(self.settings)]()
        else:
            return ""
        return "\n"

    def isatty(self) -> bool:
        return False


@dataclass
class Typist:
    """Somebody at a terminal: types one line after the other, and is gone after the last."""

    lines: list[str]

    def readline(self) -> str:
        return f"{self.lines.pop(0)}\n" if self.lines else ""

    def isatty(self) -> bool:
        return True


def modbus(function: int = 4) -> tuple[RegisterSupply, Callable[[str, str], None]]:
    """Thousandths of volts and amps in int32, low word first, one place beside the manual."""
    supply = RegisterSupply(unit=5)
    table = supply.holding if function == 3 else supply.inputs
    table.update({place: 50_000 + place for place in range(9, 16)})

    def turn(volts: str, amps: str) -> None:
        for place, text in ((10, volts), (12, amps)):
            raw = round(float(text) * 1000)
            table[place], table[place + 1] = raw & 0xFFFF, raw >> 16

    turn("1.00", "1.00")
    return supply, turn


def commission(monkeypatch: pytest.MonkeyPatch, bench: Bench | Typist, *line: str) -> int:
    monkeypatch.setattr(sys, "stdin", bench)
    return run(["commission", *line])
