"""The first hour of docs/, command by command, as somebody who has nothing else would walk it.

Each command is taken from docs/FIRST-HOUR.md. Here only the simulated supplies run faster, and a
server of this process stands for the one in the shop.
"""

import os
import re
import shlex
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from tests.servers.scripted import ScriptedServer, scripted
from tests.whole.processes import PATIENCE_S, wait_until
from tests.whole.terminal import Tmux
from tests.whole.tools import needs_tmux

pytestmark = needs_tmux

PAGE = Path(__file__).parents[2] / "docs" / "FIRST-HOUR.md"
PART = re.compile(r"<!-- first hour.*?-->(.*?)<!-- end of the first hour -->", re.DOTALL)
BLOCK = re.compile(r"```(console|toml)\n(.*?)```", re.DOTALL)
FASTER = {
    "--scene two-settings": "--scene two-settings --speed 12",
    "speed 20": "speed 40",
    "--for-s 240": "--for-s 180",
}
"""What is said otherwise than on the page, to be through within a minute."""
SHOP = "http://10.0.0.9:8428"


def blocks() -> list[tuple[str, str]]:
    """The page's walk: ("console", commands) and ("toml", settings), in its order."""
    part = PART.search(PAGE.read_text(encoding="utf-8"))
    assert part is not None
    return BLOCK.findall(part[1])


def faster(line: str) -> str:
    """A command with less patience."""
    for slow, fast in FASTER.items():
        line = line.replace(slow, fast)
    return line


@dataclass
class Walk:
    """Somebody in a folder of his own with two terminals."""

    folder: Path
    terminal: Tmux
    server: ScriptedServer
    supply: "subprocess.Popen[str] | None" = None
    told: dict[str, str] = field(default_factory=dict)

    @property
    def environment(self) -> dict[str, str]:
        path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
        return {
            **os.environ,
            "HOME": str(self.folder / "home"),
            "XDG_DATA_HOME": str(self.folder / "home" / "data"),
            "PATH": path,
            "LANG": "C.UTF-8",
        }

    def walk(self) -> None:
        for kind, text in blocks():
            if kind == "toml":
                with (self.folder / "bench.toml").open("a", encoding="utf-8") as file:
                    file.write(text.replace(SHOP, self.server.url))
                continue
            for line in text.splitlines():
                assert line.startswith("$ bathvigil "), line
                self.command(faster(line[2:]))

    def command(self, line: str) -> None:
        words = shlex.split(line)
        if words[1] == "simulate":
            self.simulate(line)
        elif words[1] == "commission":
            self.commission(line)
        elif words[1] == "watch":
            self.watch(line)
        elif words[1:] == ["review"]:
            self.compare(line)
        else:
            self.told[line] = self.to_its_end(line)

    def to_its_end(self, line: str) -> str:
        done = subprocess.run(
            shlex.split(line),
            capture_output=True,
            text=True,
            cwd=self.folder,
            env=self.environment,
            timeout=120,
            check=False,
            stdin=subprocess.DEVNULL,
        )
        assert done.returncode == 0, f"{line}: {done.stdout}{done.stderr}"
        assert "Traceback" not in done.stderr
        return done.stdout + done.stderr

    def simulate(self, line: str) -> None:
        self.end_supply()
        with (self.folder / "panel").open("w", encoding="utf-8") as panel:
            self.supply = subprocess.Popen(
                shlex.split(line),
                stdout=subprocess.PIPE,
                stderr=panel,
                text=True,
                cwd=self.folder,
                env=self.environment,
            )
        assert self.supply.stdout is not None
        assert self.supply.stdout.readline().startswith("scpi:")

    def end_supply(self) -> None:
        """Ctrl-C."""
        if self.supply is not None:
            self.supply.send_signal(signal.SIGINT)
            assert self.supply.wait(PATIENCE_S) == 0
            if self.supply.stdout is not None:
                self.supply.stdout.close()
            self.supply = None

    def panel(self) -> tuple[str, str] | None:
        """Volts and amps that the panel shows now."""
        shown = re.findall(r"panel: (\S+) V  (\S+) A", (self.folder / "panel").read_text())
        return shown[-1] if shown else None

    def settled_panel(self, unlike: str = "0") -> tuple[str, str]:
        """What the panel shows just after it was turned, and stands still again."""
        before = self.panel() or ("0", "0")

        def turned() -> tuple[str, str] | None:
            now = self.panel()
            if now is None or min(abs(float(now[0]) - volts) for volts in (6.0, 8.0)) > 0.05:
                return None
            is_as_before = any(abs(float(now[0]) - float(old)) < 1.0 for old in (before[0], unlike))
            return None if is_as_before else now

        return wait_until("the panel to be turned", turned)

    def commission(self, line: str) -> None:
        at = self.terminal
        at.begin(line, self.folder, self.environment)
        for question, answer in (
            ("Your name", "Jo"),
            ("Make and model", "DC 40 A, blue"),
            ("Title and page", "its manual, page 9"),
            ("Highest volts", ""),
            ("Highest amps", ""),
        ):
            at.shows(question)
            at.type(answer)
        at.shows("Setting 1 of 2")
        first, amps = self.settled_panel()
        at.type(first)
        at.type(amps)
        at.shows("Setting 2 of 2")
        second, amps = self.settled_panel(unlike=first)
        at.type(second)
        at.type(amps)
        self.told[line] = at.shows("name it in bench.toml")
        at.run("kill-server")

    def watch(self, line: str) -> None:
        at = self.terminal
        at.begin(line, self.folder, self.environment)
        at.shows("> bath            north tank")  # not before are its answers there
        at.press("Enter", "Enter", "Space", "Down")
        at.press(*"bell", "Enter", "Enter", "Enter", *"Jo", "Enter")
        try:
            wait_until("the card to be kept", lambda: self.has_gone_on("JOB CARD"))
        except AssertionError as late:
            raise AssertionError(f"{late}; it shows:\n{at.text}") from None
        at.shows("RISING")
        at.shows("CUT OUT")
        at.press("Space")
        at.shows("acknowledged")
        at.shows("STEADY")
        at.press("e")
        at.shows("END THE RUN")
        at.press("y")
        at.shows("FINISHED")
        at.press("q")
        wait_until("the screen's end", lambda: "FINISHED" not in at.text)
        self.told[line] = "FINISHED"
        at.run("kill-server")

    def has_gone_on(self, title: str) -> bool:
        """Press ENTER once more where a screen still stands there."""
        if title in self.terminal.text:
            self.terminal.press("Enter")
            return False
        return bool(self.terminal.text.strip())

    def compare(self, line: str) -> None:
        at = self.terminal
        at.begin(line, self.folder, self.environment)
        at.shows("2 runs, the newest first")
        at.press("Space", "Down", "Space", "c")
        self.told[line] = at.shows("2 runs side by side")
        at.press("q", "q")
        at.run("kill-server")


@pytest.fixture(scope="module", name="walk")
def a_walk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Walk]:
    """The whole walk, done once."""
    folder = tmp_path_factory.mktemp("walk")
    with scripted() as server:
        walk = Walk(folder, Tmux(folder), server)
        try:
            walk.walk()
            yield walk
        finally:
            walk.terminal.run("kill-server")
            walk.end_supply()


SAYS = {
    "find --ask": "next: bathvigil commission 'scpi:./supply' --to mine.toml",
    "commission": "read with it now: ",
    "check scpi": "nothing failed",
    "check --config": "nothing failed",
    "bath make-up": "make-up of 9 L",
    "bath advise": "distilled water (",
    "bath dilute": "dilut",
    "bath show": "9 L",
    "runs": "bench-2",
    "review 1": "tripped raised",
    "review": "2 runs side by side",
    "replay": "ALARM tripped raised",
    "report 1": "strip-1.html",
    "report --bath": "north-tank.html",
    "export": "to strip-1.csv",
    "backup": "copy.db",
    "runs --alarms": "tripped: 1",
    "forward": "all sent",
}


@pytest.mark.parametrize("command", SAYS)
def test_each_step_of_the_first_hour_says_what_it_did(walk: Walk, command: str) -> None:
    told = [text for line, text in walk.told.items() if line.startswith(f"bathvigil {command}")]
    assert told, f"the page's walk has no {command}"
    assert any(SAYS[command] in text for text in told), told


def test_what_the_first_hour_leaves_behind_is_whole(walk: Walk) -> None:
    assert (walk.folder / "mine.toml").exists()
    report = (walk.folder / "strip-1.html").read_text(encoding="utf-8")
    assert "the supply cut out" in report
    rows = (walk.folder / "strip-1.csv").read_text(encoding="utf-8").splitlines()
    assert len(rows) > 1000
    stored = {dict(tags)["run"] for ((kind, tags), _) in walk.server.points if "read" in kind}
    assert len(stored) == 2, "both runs are at the server"
