"""Help, documents and program say the same."""

import os
import shlex
import signal
import subprocess
import sys

import click
import pytest
from click.testing import CliRunner

from monitor.commands.main import COMMANDS, bathvigil, run
from simulators.__main__ import parser as simulators_parser
from tests.house.documented import every_command, examples_of


@pytest.mark.parametrize("name", [name for name in COMMANDS if name != "simulate"])
def test_every_command_has_help_with_an_example(name: str) -> None:
    result = CliRunner().invoke(bathvigil, [name, "--help"])
    assert result.exit_code == 0, result.output
    assert "Usage:" in result.output
    if name != "demo":
        assert f"Example: bathvigil {name}" in " ".join(result.output.split())


EXAMPLES = [
    (name, line) for name, command in every_command() for line in examples_of(name, command)
]


def test_no_command_is_without_an_example() -> None:
    assert {name for name, _ in EXAMPLES} >= {name for name, _ in every_command()}


@pytest.mark.parametrize(("name", "line"), EXAMPLES)
def test_every_example_is_understood(name: str, line: str) -> None:
    program, *words = shlex.split(line.partition(" >")[0])
    assert program == "bathvigil"
    assert words[: len(name.split())] == name.split()
    assert understood(name, words[len(name.split()) :])


def understood(name: str, rest: list[str]) -> bool:
    """Whether a command takes these arguments; what refuses them says why."""
    if name == "simulate":
        return simulators_parser().parse_args(rest) is not None
    command = dict(every_command())[name]
    if isinstance(command, click.Group):
        command = command.commands[rest.pop(0)]
    return command.make_context(name, rest) is not None


@pytest.mark.parametrize("name", [name for name, _ in every_command() if name != "simulate"])
def test_no_option_is_without_a_meaning(name: str) -> None:
    command = dict(every_command())[name]
    mute = [
        option.name
        for option in command.params
        if isinstance(option, click.Option) and not option.help
    ]
    assert mute == []


def test_a_misspelt_command_is_told_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["wach"]) == 2
    assert "watch" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("line", "code", "says"),
    [
        ([], 2, "Usage"),
        (["record"], 2, "which supply?"),
        (["record", "scpi:tcp://127.0.0.1:1"], 2, "--limit-amps"),
        (["record", "nonsense", "--limit-amps", "10"], 2, "not a supply's address"),
        (["replay", "no-such.csv", "--limit-amps", "10"], 2, "no-such.csv"),
        (["replay", "no-such.csv"], 2, "--limit-amps"),
        (["runs", "--store", "no-such.db"], 1, "no-such.db"),
        (["review", "7", "--store", "no-such.db"], 1, "no-such.db"),
    ],
)
def test_wrong_use_and_what_cannot_be_done_have_codes_of_their_own(
    line: list[str], code: int, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(line) == code
    told = capsys.readouterr()
    assert says in told.err + told.out
    assert "Traceback" not in told.err


def test_a_reader_that_has_seen_enough_ends_a_command_without_a_word() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    line = [sys.executable, "-m", "bathvigil", "check", "--explain"]
    ended = subprocess.run(line, stdout=writing, stderr=subprocess.PIPE, timeout=60)
    os.close(writing)
    assert (ended.returncode, ended.stderr) == (1, b"")


def test_no_command_lets_a_peer_that_hangs_up_kill_the_program() -> None:
    assert run(["--version"]) == 0
    assert signal.getsignal(signal.SIGPIPE) is signal.SIG_IGN


@pytest.mark.parametrize("name", [name for name, _ in every_command() if name != "simulate"])
def test_help_says_bounds_in_words(name: str) -> None:
    command = dict(every_command())[name]
    shown = command.get_help(click.Context(command, info_name=name))
    assert "<=" not in shown
    assert "RANGE" not in shown
    assert ">0" not in shown


@pytest.mark.parametrize(
    ("line", "code", "says"),
    [
        (["record", "--limit-amps", "abc"], 2, "'abc' is not a valid number"),
        (["record", "--poll-s", "99"], 2, "to 10"),
        (["export"], 2, "RUN"),
        (["review", "x"], 2, "`bathvigil review --help`"),
        (["runs", "--limt"], 2, "--limt"),
        (["wach"], 2, "watch"),
        (["bath", "shw"], 2, "show"),
        (["bath", "shw"], 2, "`bathvigil bath --help`"),
        (["job", "1", "--way", "both"], 2, "tank"),
        (["commission", "scpi:tcp://h:99999", "--to", "x.toml"], 2, "1 to 65535"),
        (["find", "--ask", "tcp://h:99999"], 2, "1 to 65535"),
        (["demo", "--lines", "--store", "/proc/a.db"], 1, "/proc/a.db"),
    ],
)
def test_every_failure_is_one_line_with_its_exit_code(
    line: list[str], code: int, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(line) == code
    printed = capsys.readouterr()
    assert printed.out == ""
    assert says in printed.err
    assert printed.err.startswith("bathvigil: ")
    assert len(printed.err.splitlines()) == 1


def test_a_bug_of_ours_is_not_taken_for_a_failure(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*words: object, **more: object) -> None:
        raise ZeroDivisionError("of ours")

    monkeypatch.setattr(bathvigil, "main", broken)
    with pytest.raises(ZeroDivisionError):
        run(["runs"])
