"""Every option and argument of every command with the same bad values: one line, never a traceback.

Nothing is asked and nothing is shown: supplies are at ports that are not there, and there is no
terminal.
"""

import io
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from drivers.base.clock import SystemClock
from monitor.commands.main import COMMANDS, bathvigil
from monitor.model.run import RunFacts
from monitor.store.writer import StoreWriter
from tests.whole.processes import in_process

BAD = [
    "", " ", "nan", "inf", "-inf", "1e30", "1e309", "-1", "0", "1.5.5", "0x10", "1_000", "½", "٣",
    "9" * 400, "x" * 20_000, "-", "--", "--help-me", "=", "%s%n", "$HOME", "~", "/", ".",
    "/dev/null", "/dev/zero", "/no/such/file", "/etc/shadow\n", "a\nb", "a\tb", "\x1b[2J", "\x9b2J",
    "\u202eabc", "\ud800", "\udcff",
    "scpi:", "scp:/dev/x", "scpi:/dev/no-such?baud=x", "modbus:tcp://127.0.0.1:99999", "[[[[", "{}",
]  # fmt: skip
FILES = ["folder", "nested.toml", "huge.toml", "bytes.toml", "loop.toml", "store.db", "empty"]
STAYS = {"simulate", "completion", "demo"}
"""These hand their arguments on, print a fixed script, or start a simulator."""


Words = tuple[str, ...]


def walk(command: click.Command, path: Words) -> Iterator[tuple[Words, click.Command]]:
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            found = command.get_command(context, name)
            assert found is not None
            yield from walk(found, (*path, name))
    else:
        yield path, command


WALKED = [
    pytest.param(path, command, id=" ".join(path))
    for name in COMMANDS
    if name not in STAYS
    for path, command in walk(bathvigil.get_command(click.Context(bathvigil), name), (name,))  # type: ignore[arg-type]  # it is there
]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("bad")
    (place / "folder").mkdir()
    (place / "nested.toml").write_text("a = " + "[" * 5_000 + "]" * 5_000)
    (place / "huge.toml").write_text("a = 1\n" * 3 + "#" + "x" * 3_000_000)
    (place / "bytes.toml").write_bytes(bytes(range(256)) * 10)
    (place / "loop.toml").symlink_to(place / "loop.toml")
    (place / "empty").touch()
    with StoreWriter(place / "store.db") as writer:
        writer.begin_run(RunFacts("bench-1", "scpi:/dev/x", 10.0), clock=SystemClock(), program="x")
    return place


def values(folder: Path) -> list[str]:
    return [*BAD, *(str(folder / name) for name in FILES)]


@pytest.mark.parametrize(("path", "command"), WALKED)
def test_a_bad_value_is_one_line_and_no_traceback(
    path: Words,
    command: click.Command,
    folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setattr("sys.stdin", io.StringIO())
    # A sound store is served until somebody ends that.
    monkeypatch.setattr("monitor.commands.page.run_to_its_end", lambda line: 0)
    takes_store = any("--store" in param.opts for param in command.params)
    none = ["--store", str(tmp_path / "none.db")] if takes_store else []
    for param in command.params:
        if isinstance(param, click.Option) and param.is_flag:
            continue
        name = param.opts[0]
        others = [] if name == "--store" else none
        for value in values(folder):
            given = [value] if isinstance(param, click.Argument) else [f"{name}={value}"]
            done = in_process(*path, *others, *given)
            told = f"{path} {given!r:.200}: {done.returncode}\n{done.stderr[-600:]}"
            assert done.returncode in (0, 1, 2), told
            assert "Traceback" not in done.stderr, told
            assert "\x1b" not in done.stderr + done.stdout, told
            if done.returncode and not done.stdout:  # `check` prints what fails
                lines = [one for one in done.stderr.splitlines() if one.startswith("bathvigil: ")]
                assert len(lines) == 1 or "Usage:" in done.stderr, told
