"""The command line: `bathvigil`, its commands, and what becomes of every failure.

Each command lives in a file of its own, imported when it is called, so that `bathvigil --version`
stays quick.
"""

import importlib
import os
import sys
from collections.abc import Sequence
from typing import TextIO, cast

import click
from click.shell_completion import CompletionItem

from monitor.base.errors import BathvigilError, WrongUse
from monitor.base.program import COMPLAINT, VERSION

DONE, COULD_NOT, WRONG_USE = 0, 1, 2
"""Exit codes."""

LONGEST = 4000
"""Characters of a complaint."""

COMMANDS = {
    "demo": "Show a simulated strip, from its start to the cut-out and after.",
    "plan": "See what a strip will draw and take, and which volts to choose.",
    "watch": "Watch a supply on the live screen; start a recorder if none runs.",
    "page": "Show all supplies on phones and tablets.",
    "record": "Record without a screen.",
    "runs": "List the recorded runs.",
    "review": "Look at a run again, or compare several.",
    "job": "Show or correct a run's job card; enter its result.",
    "bath": "Keep a bath's ledger; see how long it lasts and what to do about it.",
    "report": "Write a report of a run, or of a bath's life, to hand on.",
    "export": "Write a run to a table, for programs or for a spreadsheet.",
    "backup": "Copy all runs to one file, also while recording.",
    "salvage": "Copy all that is sound of a damaged store into a new one.",
    "forward": "Send a copy of all readings to a server.",
    "replay": "Run forecast and alarms over a table or a recorded run.",
    "find": "List the serial ports, and who uses each.",
    "commission": "Describe your own supply, compared with its panel.",
    "check": "Check supply, computer and settings; say how to fix what fails.",
    "simulate": "Run a simulated supply on a serial port or a socket.",
    "completion": "Print the script that lets TAB complete commands and options.",
}


class LazyCommands(click.Group):
    """A group that knows its commands' names and imports one only when it is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"monitor.commands.{cmd_name}")
        command = module.command
        if not isinstance(command, click.Command):
            raise TypeError(f"monitor.commands.{cmd_name} has no command")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        """Without importing each command for its help, which would take half a second."""
        commands = [
            CompletionItem(name, help=words)
            for name, words in COMMANDS.items()
            if name.startswith(incomplete)
        ]
        return [*commands, *click.Command.shell_complete(self, ctx, incomplete)]

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in COMMANDS:
            from drivers.base.nearest import nearest_hint

            hint = nearest_hint(args[0], COMMANDS)
            raise click.UsageError(f"there is no command {args[0]!r}: {hint}.", ctx)
        return super().resolve_command(ctx, args)


@click.group(
    cls=LazyCommands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="\b\nExample: bathvigil demo\n         bathvigil watch --help\n\n"
    "It advises. It is not an interlock and never the only protection.",
)
@click.version_option(VERSION, "--version", prog_name="bathvigil")
def bathvigil() -> None:
    """Watch a strip that runs from a small DC supply; be warned before the supply cuts out."""


class HarmlessOutput:
    """A stream whose text steers no terminal: names and notes may come from a stranger's store."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        """Write a text; characters that do not print become visible marks."""
        if text.replace("\n", "").isprintable():
            return self._stream.write(text)
        from drivers.base.inert import harmless

        return self._stream.write(harmless(text))

    def __getattr__(self, name: str) -> object:
        return getattr(self._stream, name)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run one command and leave with its exit code: 0 done, 1 could not, 2 wrong use."""
    sys.exit(run(arguments))


def run(arguments: Sequence[str] | None = None) -> int:
    """Run one command; its exit code. Every foreseen failure becomes one line on stderr, here only.

    What is not foreseen is a bug of ours, and keeps its traceback.
    """
    stdout = sys.stdout
    try:
        sys.stdout = cast(TextIO, HarmlessOutput(stdout))
        done = bathvigil.main(arguments, prog_name="bathvigil", standalone_mode=False)
        sys.stdout.flush()
    except BrokenPipeError:
        # A reader that has seen enough (head) is no failure. The signal that would end us is left
        # ignored: a supply that hangs up must not kill the program that asks it.
        _leave_stdout()
        return COULD_NOT
    except click.exceptions.Abort:
        return COULD_NOT
    except click.exceptions.NoArgsIsHelpError as wrong:
        wrong.show()
        return WRONG_USE
    except Exception as failure:
        foreseen = _foreseen(failure)
        if foreseen is None:
            raise
        code, sentence = foreseen
        complain(sentence)
        return code
    finally:
        sys.stdout = stdout
    return done if isinstance(done, int) else DONE


def _foreseen(failure: Exception) -> tuple[int, str] | None:
    """Exit code and sentence of a failure; None for a bug of ours."""
    from drivers.errors import BadAddress, BadDescription, DriverError

    match failure:
        case click.UsageError(ctx=ctx) if ctx is not None:
            return WRONG_USE, f"{failure.format_message()} See `{ctx.command_path} --help`."
        case click.ClickException():
            return failure.exit_code, failure.format_message()
        case WrongUse() | BadAddress() | BadDescription():
            return WRONG_USE, str(failure)
        case BathvigilError() | DriverError():
            return COULD_NOT, str(failure)
        case RecursionError() | MemoryError():
            return WRONG_USE, "what was given is nested too deeply, or too large: check the files"
        case UnicodeError():
            return WRONG_USE, f"a text holds bytes that are no letters (UTF-8): {failure}"
        case OSError(strerror=str(reason)):
            place = "" if failure.filename is None else f"{failure.filename}: "
            return COULD_NOT, f"{place}{reason}: check that it is there and that you may use it"
    return None


def _leave_stdout() -> None:
    """Nobody reads on: what is still to be flushed goes nowhere, without a word."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def complain(sentence: str) -> None:
    """Say it on one line of stderr, with nothing in it that a terminal would obey.

    Some of it came from a file.
    """
    from drivers.base.inert import inert
    from monitor.commands.process import Outlet, unread

    # The program ends though nobody reads.
    stderr = Outlet("complaint", sys.stderr, unread)
    stderr.put(f"{COMPLAINT}{inert(sentence, LONGEST)}")
    stderr.close()
