"""Options that several commands share, so that each is named and explained once."""

from pathlib import Path

import click


def examples(*lines: str) -> str:
    """The end of a command's help: whole lines to copy, one under the other, never wrapped."""
    return "\b\nExample: " + "\n         ".join(lines)


class WholeSentences(click.Group):
    """A group whose help cuts no command's sentence short."""

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(
                [
                    (name, " ".join((command.help or "").partition("\n\n")[0].split()))
                    for name, command in sorted(self.commands.items())
                ]
            )


store_option = click.option(
    "--store",
    type=click.Path(path_type=Path, dir_okay=False),
    help="The file of runs.  [default: what bench.toml says, or bathvigil.db in your data folder]",
)
config_option = click.option(
    "--config",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Settings of the bench, such as bench.toml.",
)
json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON Lines on stdout.")
limit_option = click.option(
    "--limit-amps",
    type=click.FloatRange(min=0, min_open=True),
    metavar="A",
    help="Amps at which the supply cuts out, or holds the current.",
)
supply_option = click.option(
    "--supply",
    "limit_kind",
    type=click.Choice(["trips", "limits"]),
    help="At its limit the supply cuts out (trips, the default) or holds the current (limits).",
)
litres_option = click.option(
    "--bath-litres",
    type=click.FloatRange(min=0, min_open=True),
    metavar="L",
    help="Litres of solution, to reckon how it warms.",
)
horizon_option = click.option(
    "--horizon-s",
    type=click.FloatRange(min=1, max=3600),
    metavar="S",
    help="How far ahead a trip is warned of, seconds.  [default: 120]",
)
