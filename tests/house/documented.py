"""The commands in, the page of their examples out: docs/COMMANDS.md as it should stand."""

import importlib
import re
from collections.abc import Iterator

import click

from monitor.commands.main import COMMANDS, bathvigil
from simulators.__main__ import EXAMPLES

HEAD = """# Every command, with examples to copy

Written by `BATHVIGIL_REDRAW=1 .venv/bin/pytest tests/house/test_commands.py` from the help of the
commands; `bathvigil COMMAND --help` lists every option, and `bathvigil check --explain` every
setting of bench.toml. A test holds each example against the options that there are.
"""


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


def page() -> str:
    """The whole of docs/COMMANDS.md."""
    parts = [HEAD]
    for name, command in every_command():
        lines = "\n".join(examples_of(name, command))
        parts.append(
            f"## bathvigil {name}\n\n{sentence_of(name, command)}\n\n```console\n{lines}\n```\n"
        )
    assert isinstance(bathvigil, click.Group)
    return re.sub(r"^bathvigil", "$ bathvigil", "\n".join(parts), flags=re.MULTILINE)
