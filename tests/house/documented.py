"""What the pages must say because the program says it: `make pages` writes it into them.

docs/COMMANDS.md as a whole; tables between two comments in the other pages; and what the commands
of a session print. Tests compare.
"""

import importlib
import os
import re
import shlex
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import click

from monitor.alarms.catalogue import KINDS
from monitor.commands.main import COMMANDS, bathvigil
from monitor.model.advice import Advice, Reason, Remedy
from monitor.model.alarm import AlarmName
from monitor.setup.check.explaining import explained_settings
from monitor.text.alarms import ALARM_TEXTS
from monitor.text.bath_advice import deed
from monitor.text.prompts import PROMPT_TEXTS
from simulators.__main__ import EXAMPLES
from tui.keys import LIVE_KEYS

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
COMMANDS_PAGE = ROOT / "docs" / "COMMANDS.md"
HEAD = """# Every command, with examples to copy

Written by `make pages` from the help of the commands. `bathvigil COMMAND --help` lists every
option, and [Settings](SETTINGS.md) every key of bench.toml. A test tries each example.
"""

FIVE_KEYS = ("SPACE", "m", "x", "e then y", "q")
SIX_ALARMS = (
    AlarmName.TRIP_EXPECTED,
    AlarmName.TRIPPED,
    AlarmName.SHORT,
    AlarmName.OVERHEATING,
    AlarmName.CONNECTION_RESISTANCE,
    AlarmName.NO_DATA,
)

PART = re.compile(r"(?<=<!-- from the program: )([a-z ]+)( -->\n)(.*?)(?=<!-- end -->)", re.DOTALL)
SESSION = re.compile(r"(<!-- session.*?-->\n```console\n)(.*?)(?=```)", re.DOTALL)


def every_command() -> Iterator[tuple[str, click.Command]]:
    """Each command and each of a group's, by its whole name."""
    for name in COMMANDS:
        command = importlib.import_module(f"monitor.commands.{name}").command
        assert isinstance(command, click.Command)
        yield name, command
        if isinstance(command, click.Group):
            for inner, part in command.commands.items():
                yield f"{name} {inner}", part


def examples_of(name: str, command: click.Command) -> list[str]:
    """The examples at the end of a command's help."""
    epilog = EXAMPLES if name == "simulate" else command.epilog or ""
    _, _, lines = epilog.partition("Example: ")
    return [line.strip() for line in lines.splitlines() if line.strip()]


def sentence_of(name: str, command: click.Command) -> str:
    """What it is for."""
    if name in COMMANDS:
        return COMMANDS[name]
    return " ".join((command.help or "").partition("\n\n")[0].split())


def commands_page() -> str:
    """The whole of docs/COMMANDS.md."""
    parts = [HEAD]
    for name, command in every_command():
        lines = "\n".join(examples_of(name, command))
        parts.append(
            f"## bathvigil {name}\n\n{sentence_of(name, command)}\n\n```console\n{lines}\n```\n"
        )
    assert isinstance(bathvigil, click.Group)
    return re.sub(r"^bathvigil", "$ bathvigil", "\n".join(parts), flags=re.MULTILINE)


def _table(*rows: Sequence[str]) -> str:
    head, *rest = (f"| {' | '.join(row)} |" for row in rows)
    return "\n".join([head, "|" + " --- |" * len(rows[0]), *rest]) + "\n"


def _alarms() -> str:
    rows = [(f"`{kind.name}`", kind.priority.value, *ALARM_TEXTS[kind.name][:2]) for kind in KINDS]
    return _table(("alarm", "priority", "means", "do"), *rows)


def _prompts() -> str:
    return _table(
        ("prompt", "in big letters", "do"),
        *((f"`{name}`", text.word.value, text.to_do) for name, text in PROMPT_TEXTS.items()),
    )


def _bath_deeds() -> str:
    example = Advice(
        Remedy.NOTHING,
        Reason.FAR_FROM_LIMIT,
        water_litres=1.2,
        low_litres=1.0,
        high_litres=1.4,
        caustic_grams=90.0,
    )
    rows = [(remedy.value, deed(replace(example, remedy=remedy))) for remedy in Remedy]
    return _table(("advice", "do"), *rows)


def _six_alarms() -> str:
    rows = [(f"`{name}`", *ALARM_TEXTS[name][:2]) for name in SIX_ALARMS]
    return _table(("alarm", "means", "do"), *rows)


def _keys() -> str:
    return _table(("key", "does"), *((", ".join(key.names), key.means) for key in LIVE_KEYS))


def _five_keys() -> str:
    keys = {key.names[0]: key for key in LIVE_KEYS}
    rows = [(", ".join(keys[name].names), keys[name].means) for name in FIVE_KEYS]
    return _table(("key", "does"), *rows)


def _settings() -> str:
    """Every setting, a table of the page for each table of bench.toml."""
    tables: dict[str, list[tuple[str, ...]]] = {}
    for setting in explained_settings():
        default = "must be there" if setting.default is None else setting.default
        allowed = " ".join(each for each in (setting.allowed, setting.unit) if each)
        row = (f"`{setting.key}`", default, allowed, setting.meaning)
        tables.setdefault(setting.table, []).append(row)
    head = ("key", "default", "allowed, unit", "meaning")
    return "\n".join(f"### `{name}`\n\n{_table(head, *rows)}" for name, rows in tables.items())


PARTS: dict[str, Callable[[], str]] = {
    "alarms": _alarms,
    "prompts": _prompts,
    "bath advice": _bath_deeds,
    "six alarms": _six_alarms,
    "keys": _keys,
    "five keys": _five_keys,
    "settings": _settings,
}


def with_parts(text: str) -> str:
    """A page with what the program says now between its comments."""
    return PART.sub(lambda part: f"{part[1]}{part[2]}\n{PARTS[part[1]]()}\n", text)


def with_sessions(text: str) -> str:
    """A page whose sessions print what their commands print now."""
    return SESSION.sub(lambda session: session[1] + _again(session[2]), text)


def _again(shown: str) -> str:
    """The commands of a session, run in an empty folder, with what they print."""
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    printed = []
    with tempfile.TemporaryDirectory() as folder:
        for command in re.findall(r"^\$ (.*)$", shown, re.MULTILINE):
            done = subprocess.run(
                shlex.split(command),
                capture_output=True,
                text=True,
                check=True,
                cwd=folder,
                env={**os.environ, "PATH": path},
            )
            printed.append(f"$ {command}\n{done.stdout}")
    return "".join(printed)


def main() -> None:
    """Write the pages anew."""
    COMMANDS_PAGE.write_text(commands_page(), encoding="utf-8")
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        page.write_text(with_sessions(with_parts(text)), encoding="utf-8")


if __name__ == "__main__":
    main()
