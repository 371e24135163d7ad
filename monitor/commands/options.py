"""Options that several commands share, so that each is named and explained once."""

from pathlib import Path
from typing import get_args

import click
from annotated_types import Interval

from monitor.model.ranges import HORIZON_S, Amps, HorizonS, Litres
from monitor.model.run import LimitKind


def examples(*lines: str) -> str:
    """The end of a command's help: whole lines to copy, one under the other, never wrapped."""
    return "\b\nExample: " + "\n         ".join(lines)


def range_of(kind: object) -> click.FloatRange:
    """The range of a setting, such as `monitor.model.ranges.PollS`, for an option.

    Examples
    --------
    >>> range_of(HorizonS)
    <FloatRange 10<=x<=3600>
    """
    (interval,) = (part for part in get_args(kind) if isinstance(part, Interval))
    least = interval.ge if interval.gt is None else interval.gt
    return click.FloatRange(least, interval.le, min_open=interval.gt is not None)  # type: ignore[arg-type]  # the bounds are numbers: annotated_types asks for less


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
    type=range_of(Amps),
    metavar="A",
    help="Amps at which the supply cuts out, or holds the current.",
)
at_limit_option = click.option(
    "--at-limit",
    type=click.Choice([kind.value for kind in LimitKind]),
    help="At its limit the supply cuts out (trips, the default) or holds the current (holds).",
)
litres_option = click.option(
    "--bath-litres",
    type=range_of(Litres),
    metavar="L",
    help="Litres of solution, to reckon how it warms.",
)
horizon_option = click.option(
    "--horizon-s",
    type=range_of(HorizonS),
    metavar="S",
    help=f"How far ahead a trip is warned of, seconds.  [default: {HORIZON_S:g}]",
)
