"""What notebooks import, and how the program starts: `bathvigil` loads no more than it is asked."""

import subprocess
import sys
from importlib.metadata import version
from pathlib import Path

import pytest

import bathvigil
from monitor.base.program import own_command
from tests.house.test_tree import modules_after


def test_the_front_door_has_the_installed_version() -> None:
    assert bathvigil.__version__ == version("bathvigil")


def test_the_front_door_loads_nothing_until_it_is_asked() -> None:
    loaded = modules_after("import bathvigil")
    assert "bathvigil" in loaded
    assert loaded & {"monitor", "drivers", "numpy", "sqlite3"} == set()


def test_reading_a_store_loads_no_screen_no_settings_and_no_port() -> None:
    loaded = modules_after("from bathvigil import open_store")
    assert "monitor" in loaded
    assert loaded & {"textual", "click", "pydantic", "serial", "tui", "simulators"} == set()


def test_what_is_not_there_is_said_with_what_is() -> None:
    with pytest.raises(AttributeError, match="open_store"):
        _ = bathvigil.open_shop


def test_python_m_bathvigil_is_the_command_line() -> None:
    line = [sys.executable, "-m", "bathvigil", "--version"]
    done = subprocess.run(line, capture_output=True, text=True, check=True)
    assert done.stdout == f"bathvigil, version {bathvigil.__version__}\n"


@pytest.mark.parametrize("module", ["bathvigil", "simulators", "tui"])
def test_a_file_of_the_users_own_is_not_taken_for_ours(module: str, tmp_path: Path) -> None:
    for name in ("bathvigil", "monitor", "drivers", "simulators", "tui"):
        (tmp_path / f"{name}.py").write_text("raise SystemExit('the wrong file')\n")
    line = own_command(module, "--help")
    done = subprocess.run(line, capture_output=True, text=True, cwd=tmp_path, check=False)
    assert done.returncode == 0, done.stderr
