"""What to record: the plans from the command line or from bench.toml."""

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from functools import wraps
from pathlib import Path
from typing import TypeVar

import click

from drivers.address import parse_address
from drivers.base.nearest import nearest_hint
from monitor.analysis.bath_heat import CAUSTIC_PER_KELVIN
from monitor.base.errors import WrongUse
from monitor.commands.options import (
    Number,
    at_limit_option,
    cells_option,
    config_option,
    horizon_option,
    limit_option,
    litres_option,
    range_of,
    reaction_option,
    together,
)
from monitor.model.fittings import Fittings
from monitor.model.ranges import POLL_S, PollS, ahead_s
from monitor.model.run import LimitKind, RunFacts
from monitor.recorder.plan import SupplyPlan
from monitor.settings import Bench, load_bench


@dataclass(frozen=True, slots=True)
class Asked:
    """What `record` and `watch` were asked to record; see their options."""

    address: str | None
    config: Path | None
    limit_amps: float | None
    at_limit: str | None
    bath_litres: float | None
    cells: int | None
    horizon_s: float | None
    reaction_s: float | None
    name: str | None
    bath: str | None
    poll_s: float | None
    description: Path | None
    new_run: bool
    keep_trying: bool
    clock_speed: float

    def plans(self) -> list[SupplyPlan]:
        """The supplies to record: those of the settings, or the one typed.

        Raises
        ------
        WrongUse
            With the cure, where neither says enough.
        """
        if self.address is None:
            if self.config is None:
                raise WrongUse(
                    "which supply? Give an address and --limit-amps, or --config bench.toml"
                )
            self._refuse_what_the_bench_says()
            return _from_bench(load_bench(self.config), self.name, self.clock_speed)
        if self.config is not None:
            raise WrongUse("give an address or --config, not both")
        if self.limit_amps is None:
            raise WrongUse("at how many amps does the supply cut out? Give --limit-amps")
        driver = parse_address(self.address).driver
        facts = RunFacts(
            supply=self.name or f"{driver} supply",
            address=self.address,
            limit_amps=self.limit_amps,
            limit_kind=LimitKind(self.at_limit or LimitKind.TRIPS),
            bath=self.bath or "",
            bath_litres=self.bath_litres,
            poll_s=self.poll_s or POLL_S,
            horizon_s=ahead_s(self.horizon_s, self.reaction_s),
            clock_speed=self.clock_speed,
        )
        described = None if self.description is None else str(self.description)
        fittings = Fittings(cells=self.cells or 1)
        return [SupplyPlan(facts, description=described, fittings=fittings)]

    def _refuse_what_the_bench_says(self) -> None:
        """Refuse an option that bench.toml already holds: it would have no effect."""
        given = {
            "--limit-amps": self.limit_amps,
            "--at-limit": self.at_limit,
            "--bath-litres": self.bath_litres,
            "--cells": self.cells,
            "--horizon-s": self.horizon_s,
            "--reaction-s": self.reaction_s,
            "--bath": self.bath,
            "--poll-s": self.poll_s,
            "--description": self.description,
        }
        for option, value in given.items():
            if value is not None:
                raise WrongUse(
                    f"{option} goes with an address; with --config, write it into bench.toml"
                )

    def arguments(self) -> list[str]:
        """The same, as the arguments of a `record` command line."""
        given = [
            ("--config", None if self.config is None else str(self.config.absolute())),
            ("--limit-amps", self.limit_amps),
            ("--at-limit", self.at_limit),
            ("--bath-litres", self.bath_litres),
            ("--cells", self.cells),
            ("--horizon-s", self.horizon_s),
            ("--reaction-s", self.reaction_s),
            ("--name", self.name),
            ("--bath", self.bath),
            ("--poll-s", self.poll_s),
            ("--description", None if self.description is None else _whole_path(self.description)),
            ("--clock-speed", self.clock_speed),
        ]
        line = [word for key, value in given if value is not None for word in (key, str(value))]
        flags = [("--new-run", self.new_run), ("--keep-trying", self.keep_trying)]
        line += [flag for flag, is_set in flags if is_set]
        return [*line, *([self.address] if self.address else [])]


def _whole_path(description: Path) -> str:
    """A file's path from the root; the name of a shipped description as it is."""
    return str(description.absolute()) if description.suffix == ".toml" else str(description)


R = TypeVar("R")


def asks_what_to_record(function: Callable[..., R]) -> Callable[..., R]:
    """Give a command the options that say what to record, as one `asked: Asked`."""

    @wraps(function)
    def collected(**given: object) -> R:
        names = [field.name for field in fields(Asked)]
        # click has checked each value's type by its own option.
        asked = Asked(**{name: given.pop(name) for name in names})  # type: ignore[arg-type]
        return function(asked=asked, **given)

    return together(
        click.argument("address", required=False),
        config_option,
        limit_option,
        at_limit_option,
        litres_option,
        cells_option,
        horizon_option,
        reaction_option,
        click.option("--name", metavar="NAME", help="The supply's name; picks one of bench.toml."),
        click.option("--bath", metavar="NAME", help="The bath's name."),
        click.option(
            "--poll-s",
            type=range_of(PollS),
            metavar="S",
            help=f"Seconds between polls.  [default: {POLL_S:g}]",
        ),
        click.option(
            "--description",
            type=click.Path(path_type=Path, dir_okay=False),
            metavar="FILE",
            help="How the supply is asked: its description, such as mine.toml.",
        ),
        click.option(
            "--new-run", is_flag=True, help="Start a new run; do not resume an interrupted one."
        ),
        click.option(
            "--keep-trying",
            is_flag=True,
            help="Start even if the supply cannot be reached; keep trying.",
        ),
        click.option(
            "--clock-speed",
            type=Number(min=1, max=1000),
            default=1.0,
            metavar="N",
            help="For a simulated supply that runs N times as fast.",
        ),
    )(collected)


def _from_bench(bench: Bench, name: str | None, clock_speed: float) -> list[SupplyPlan]:
    if name is not None and name not in bench.supplies:
        raise WrongUse(f"bench.toml has no supply {name!r}: {nearest_hint(name, bench.supplies)}")
    names = list(bench.supplies) if name is None else [name]
    return [_plan(bench, supply, clock_speed) for supply in names]


def _plan(bench: Bench, name: str, clock_speed: float) -> SupplyPlan:
    supply = bench.supplies[name]
    bath = bench.baths[supply.bath] if supply.bath else None
    facts = RunFacts(
        supply=name,
        address=supply.address,
        limit_amps=supply.limit_amps,
        limit_kind=supply.at_limit,
        bath=supply.bath or "",
        bath_litres=None if bath is None else bath.litres,
        poll_s=supply.poll_s,
        horizon_s=bench.forecast.ahead_s,
        clock_speed=clock_speed,
        settings=bench.model_dump_json(),
    )
    return SupplyPlan(
        facts,
        timeout_s=supply.timeout_s,
        description=supply.description,
        amps=None if supply.amps is None else supply.amps.source(),
        no_data_after_s=bench.no_data.after_s,
        per_kelvin=CAUSTIC_PER_KELVIN if bath is None else bath.per_kelvin,
        fittings=bench.fittings(name),
        out_of_service=bench.out_of_service(),
    )


def plan_of_bench(config: Path, name: str | None, bath: str | None) -> SupplyPlan:
    """One supply of bench.toml, feeding its own bath or another one of the bench.

    Raises
    ------
    WrongUse
        With the cure, where it is not clear which supply is meant.
    """
    bench = load_bench(config)
    plans = _from_bench(bench, name, 1.0)
    if len(plans) > 1:
        names = ", ".join(plan.facts.supply for plan in plans)
        raise WrongUse(f"which supply? Give --name with one of: {names}")
    plan, vessel = plans[0], bench.baths.get(bath or "")
    if vessel is None:
        return plan
    facts = replace(plan.facts, bath=bath or "", bath_litres=vessel.litres)
    return replace(plan, facts=facts, per_kelvin=vessel.per_kelvin)
