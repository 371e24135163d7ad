"""Options that several commands share, so that each is named and explained once."""

import math
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar, get_args

import click
from annotated_types import Interval

from monitor.model.ranges import HORIZON_S, MOST_CELLS, REACTION_S, Amps, HorizonS, Litres
from monitor.model.run import LimitKind

F = TypeVar("F", bound=Callable[..., object])


class Number(click.FloatRange):
    """A number within bounds; help and complaints say the bounds in words."""

    name = "number"

    def convert(
        self, value: float, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        number: float = super().convert(value, param, ctx)
        if not math.isfinite(number):
            # "nan" and "inf" are numbers to Python, and within every bound to click.
            self.fail(f"{value!r} is not a number.", param, ctx)
        return number

    def _describe_range(self) -> str:
        # click writes "0<x<=10000", which not everybody at a bath reads.
        return _bounds(self.min, self.max, self.min_open)


class WholeNumber(click.IntRange):
    """A whole number within bounds."""

    name = "whole number"

    def _describe_range(self) -> str:
        return _bounds(self.min, self.max, is_open=False)


def _bounds(low: float | None, high: float | None, is_open: bool) -> str:
    least = "" if low is None else f"{'over ' if is_open else ''}{low:g}"
    if high is None:
        return least if is_open else f"{least} or more"
    return f"{least} to {high:g}"


def together(*options: Callable[[F], F]) -> Callable[[F], F]:
    """Several options as one decorator, in the order of the help."""

    def decorate(function: F) -> F:
        for option in reversed(options):
            function = option(function)
        return function

    return decorate


def examples(*lines: str) -> str:
    """The end of a command's help: whole lines to copy, one under the other, never wrapped."""
    return "\b\nExample: " + "\n         ".join(lines)


def range_of(kind: object) -> Number:
    """The range of a setting, such as `monitor.model.ranges.PollS`, for an option.

    Examples
    --------
    >>> range_of(HorizonS)
    <Number 10 to 3600>
    """
    (interval,) = (part for part in get_args(kind) if isinstance(part, Interval))
    least = interval.ge if interval.gt is None else interval.gt
    return Number(least, interval.le, min_open=interval.gt is not None)  # type: ignore[arg-type]  # the bounds are numbers: annotated_types asks for less


class WholeSentences(click.Group):
    """A group whose help shows the whole sentence of each command."""

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
    help="The file of runs.  [default: that of bench.toml, or bathvigil.db in your data folder]",
)
config_option = click.option(
    "--config",
    type=click.Path(path_type=Path, dir_okay=False),
    help="The settings of the bench, such as bench.toml.",
)
json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON, one object a line.")
limit_option = click.option(
    "--limit-amps",
    type=range_of(Amps),
    metavar="A",
    help="The amps at which the supply cuts out, or holds the current.",
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
    help="Litres of solution, to estimate how it warms.",
)
cells_option = click.option(
    "--cells",
    type=WholeNumber(1, MOST_CELLS),
    metavar="N",
    help="Cells in series between the supply's terminals.  [default: 1]",
)
reaction_option = click.option(
    "--reaction-s",
    type=range_of(HorizonS),
    metavar="S",
    help="How long the operator needs to the supply; warn at least so long before.  "
    f"[default: {REACTION_S:g}]",
)
horizon_option = click.option(
    "--horizon-s",
    type=range_of(HorizonS),
    metavar="S",
    help=f"Warn when a cut-out is expected within S seconds.  [default: {HORIZON_S:g}]",
)
