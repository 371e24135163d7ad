"""The command line: what was typed in, an exit code out; each command lives in its own file.

Commands are imported when they are called, so that `bathvigil --version` stays quick.
"""

import importlib
import os
import sys
from collections.abc import Sequence

import click
from click.shell_completion import CompletionItem

from monitor.base.errors import BathvigilError, WrongUse
from monitor.base.program import VERSION

LONGEST = 4000
"""Characters of a complaint."""

COMMANDS = {
    "demo": "Watch a simulated strip run, from start to cut-out and after.",
    "watch": "Watch a supply on the live screen; start recording if nobody does.",
    "record": "Record without a screen.",
    "runs": "List the recorded runs.",
    "review": "Look at a run again.",
    "job": "Show or correct a run's job card; tell how it turned out.",
    "bath": "Keep a bath's ledger; see how long it lasts, and what to do about it.",
    "report": "Write a run, or a bath's life, as a page to hand on.",
    "export": "Write a run to a table for machines or for a spreadsheet.",
    "backup": "Copy all runs to one complete file, also while recording.",
    "forward": "Send a copy of the store to a server, such as one for many benches.",
    "replay": "Run the estimators and alarms over a table or a recorded run.",
    "find": "List the serial ports, and what is known of each.",
    "commission": "Make the description of your own supply, held against its panel.",
    "check": "Check supply, machine and settings, each pass or fail with its cure.",
    "simulate": "Serve a simulated supply on a serial device or socket.",
    "completion": "Print what lets a shell complete commands and options with TAB.",
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
        found = [
            CompletionItem(name, help=words)
            for name, words in COMMANDS.items()
            if name.startswith(incomplete)
        ]
        return [*found, *click.Command.shell_complete(self, ctx, incomplete)]

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in COMMANDS:
            from drivers.base.nearest import nearest_hint

            hint = nearest_hint(args[0], COMMANDS)
            raise click.UsageError(f"there is no command {args[0]!r}: {hint}", ctx)
        return super().resolve_command(ctx, args)


@click.group(
    cls=LazyCommands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="\b\nExample: bathvigil demo\n         bathvigil watch --help\n\n"
    "It watches and warns. It is not an interlock and never the only protection.",
)
@click.version_option(VERSION, "--version", prog_name="bathvigil")
def bathvigil() -> None:
    """Watch a strip run from a small DC supply, and be warned before the supply cuts out."""


def main(arguments: Sequence[str] | None = None) -> None:
    """Run one command and leave with its exit code: 0 done, 1 could not, 2 wrong use."""
    sys.exit(run(arguments))


def run(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit code. Foreseen failures are one line on stderr."""
    try:
        done = bathvigil.main(arguments, prog_name="bathvigil", standalone_mode=False)
        sys.stdout.flush()
    except BrokenPipeError:
        # A reader that has seen enough (head) is no failure. The signal that would end us is left
        # ignored: a supply that hangs up must not kill the program that asks it.
        _leave_stdout()
        return 1
    except click.exceptions.Abort:
        return 1
    except click.ClickException as wrong:
        wrong.show()
        return wrong.exit_code
    except WrongUse as wrong:
        _complain(wrong)
        return 2
    except BathvigilError as failure:
        _complain(failure)
        return 1
    return done if isinstance(done, int) else 0


def _leave_stdout() -> None:
    """Nobody reads on: what is still to be flushed goes nowhere, without a word."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _complain(error: BathvigilError) -> None:
    """On one line, with nothing in it that a terminal would obey: some of it came from a file."""
    from drivers.base.inert import inert

    click.echo(f"bathvigil: {inert(str(error), LONGEST)}", err=True)
