"""The house's rules that no linter knows: file lengths, who imports what, what is heavy."""

import ast
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGES = ("bathvigil", "drivers", "monitor", "tui", "simulators")
FILES = [path for package in PACKAGES for path in sorted((ROOT / package).rglob("*.py"))]

ONE_PLACE = {
    "pymodbus": ["drivers/modbus/modbus_codec.py"],
    "pyvisa": ["drivers/link/visa_link.py"],
    "serial": ["drivers/link/serial_link.py"],
    "sqlite3": ["monitor/store"],
    "numpy": ["monitor/store", "tui"],
    "textual": ["tui"],
    "click": ["monitor/commands"],
    "jinja2": ["monitor/export/report_page.py"],
    "segno": ["tui/phone/__main__.py"],
    "starlette": ["tui/phone/server.py"],
    "uvicorn": ["tui/phone/server.py"],
    "apprise": ["monitor/recorder/notices/services.py"],
    "influxdb_client": ["monitor/forward/sink.py"],
}
"""Libraries that only these files or folders may import."""

DANGEROUS = {"pickle", "marshal", "shelve", "yaml"}
"""Files are data: nothing that turns a file's bytes into code."""


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def imported(path: Path) -> set[str]:
    names = set()
    for node in ast.walk(parsed(path)):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module is not None:
            names.add(node.module.split(".")[0])
    return names


def test_no_file_outgrows_four_hundred_lines() -> None:
    lengths = {str(p.relative_to(ROOT)): len(p.read_text().splitlines()) for p in FILES}
    assert {name: n for name, n in lengths.items() if n > 400} == {}


@pytest.mark.parametrize("library", ONE_PLACE)
def test_a_library_is_imported_in_its_place_only(library: str) -> None:
    places = [
        str(path.relative_to(ROOT))
        for path in FILES
        if library in imported(path) and not path.is_relative_to(ROOT / "simulators")
    ]
    assert places, f"nothing imports {library}: take it out of this list"
    strays = [place for place in places if not place.startswith(tuple(ONE_PLACE[library]))]
    assert strays == []


def test_nothing_turns_files_into_code() -> None:
    for path in FILES:
        assert not imported(path) & DANGEROUS, path
        calls = {
            node.func.id
            for node in ast.walk(parsed(path))
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        }
        assert not calls & {"eval", "exec", "compile"}, path


def test_every_package_file_opens_with_a_sentence() -> None:
    for path in FILES:
        if path.name != "__init__.py":
            assert ast.get_docstring(parsed(path)), path


def modules_after(statement: str) -> set[str]:
    code = f"import sys; {statement}; print('\\n'.join(m.split('.')[0] for m in sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    return set(done.stdout.split())


def test_the_recorder_needs_neither_numpy_nor_a_screen() -> None:
    heavy = {"numpy", "textual", "rich", "influxdb_client", "tui", "simulators"}
    assert modules_after("import monitor.commands.record") & heavy == set()


def test_the_version_is_told_without_loading_the_product() -> None:
    heavy = {"numpy", "pydantic", "serial", "sqlite3", "drivers"}
    assert modules_after("import monitor.commands.main") & heavy == set()


def test_the_screen_opens_no_port() -> None:
    assert modules_after("import tui.__main__") & {"serial", "pymodbus"} == set()


OPEN_SCPI = (
    "from drivers.address import parse_address; from drivers.base.clock import SystemClock; "
    "from drivers.driver import DriverSetUp; from drivers.registry import open_driver; "
    "open_driver(DriverSetUp(parse_address('scpi:tcp://127.0.0.1:9'), SystemClock(), 0.5))"
)


def test_recording_loads_no_library_of_what_it_is_not_asked_for() -> None:
    extras = {"apprise", "jinja2", "openpyxl", "pyarrow", "textual_serve", "pymodbus", "numpy"}
    extras |= {"pyvisa", "pyvisa_py"}
    loaded = modules_after(f"import monitor.commands.record; {OPEN_SCPI}")
    assert loaded & extras == set()
    assert "drivers" in loaded


def test_the_version_needs_neither_the_settings_nor_the_alarms() -> None:
    told = (
        "from monitor.commands.main import run; run(['--version']); "
        "assert not any(m.startswith('monitor.commands.') and m != 'monitor.commands.main' "
        "for m in sys.modules)"
    )
    heavy = {"numpy", "pydantic", "textual", "serial", "pymodbus", "sqlite3", "drivers", "tomllib"}
    assert modules_after(told) & heavy == set()


def test_commissioning_asks_its_questions_without_loading_what_reads_descriptions() -> None:
    heavy = {"pydantic", "pymodbus", "serial", "asyncio", "numpy"}
    assert modules_after("import monitor.commands.commission") & heavy == set()


def test_ports_are_found_without_loading_what_reads_settings() -> None:
    assert "pydantic" not in modules_after("import monitor.commands.find")
