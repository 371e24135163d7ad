"""TAB in a real bash, with what `bathvigil completion bash` prints at the end of its start file."""

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.whole.processes import bathvigil
from tests.whole.terminal import Tmux
from tests.whole.tools import needs_tmux

pytestmark = needs_tmux

HERE = str(Path(sys.executable).parent)


@pytest.fixture
def bash(tmp_path: Path) -> Iterator[Tmux]:
    script = tmp_path / "bashrc"
    done = bathvigil("completion", "bash")
    assert done.returncode == 0, done.stderr
    script.write_text(f"PS1='ready> '\nset +o history\n{done.stdout}", encoding="utf-8")
    terminal = Tmux(tmp_path)
    environment = {**os.environ, "PATH": f"{HERE}{os.pathsep}{os.environ['PATH']}"}
    terminal.begin(f"bash --noprofile --rcfile '{script}' -i", tmp_path, environment)
    terminal.shows("ready>")
    yield terminal
    terminal.run("kill-server")


@pytest.mark.parametrize(
    ("typed", "completed"),
    [
        ("bathvigil comm", "bathvigil commission "),
        ("bathvigil bath make", "bathvigil bath make-up "),
        ("bathvigil record --lim", "bathvigil record --limit-amps "),
        ("bathvigil watch --at-limit tr", "bathvigil watch --at-limit trips "),
        ("bathvigil check --config be", "bathvigil check --config bench.toml "),
    ],
)
def test_tab_completes_commands_options_choices_and_files(
    bash: Tmux, tmp_path: Path, typed: str, completed: str
) -> None:
    (tmp_path / "bench.toml").touch()
    bash.run("send-keys", "-l", typed)
    bash.press("Tab", "X")  # what comes after the completed word shows where it ends
    bash.shows(f"ready> {completed}X")


def test_completing_the_first_word_loads_no_command() -> None:
    code = (
        "import os, sys\n"
        "os.environ.update(COMP_WORDS='bathvigil re', COMP_CWORD='1', "
        "_BATHVIGIL_COMPLETE='bash_complete')\n"
        "from monitor.commands.main import run\n"
        "try:\n    run([])\nexcept SystemExit:\n    pass\n"
        "print(sorted(m for m in sys.modules if m.startswith(('monitor.', 'pydantic', 'drivers'))))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    *found, loaded = done.stdout.splitlines()
    assert [line.split(",")[1] for line in found] == ["record", "review", "report", "replay"]
    assert "monitor.commands.main" in loaded
    assert "monitor.commands.record" not in loaded
    assert "pydantic" not in loaded
