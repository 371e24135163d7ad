"""`bathvigil plan`: what a strip will draw and take, and which volts to choose."""

import json
import time
from pathlib import Path

import click

from monitor.base.errors import WrongUse
from monitor.baths.cautions import DEFER, NOT_AN_INTERLOCK
from monitor.baths.designation import micrometres_of
from monitor.baths.job_plan import Asked, plan_of_job
from monitor.baths.shapes import area_of
from monitor.commands.options import (
    Number,
    at_limit_option,
    cells_option,
    config_option,
    examples,
    json_option,
    limit_option,
    litres_option,
    store_option,
)
from monitor.commands.places import store_path
from monitor.commands.planning import plan_of_bench
from monitor.model.card import JobCard, Way
from monitor.model.fittings import Fittings
from monitor.model.run import LimitKind, RunFacts
from monitor.model.strip_plan import Outlook, Range, StripPlan
from monitor.recorder.plan import SupplyPlan
from monitor.store.reader import open_store
from monitor.text.strip_plan import choice, plan_lines

ADDRESS = "planned:"
"""Nothing is asked there."""


@click.command(
    "plan",
    epilog=examples(
        "bathvigil plan --config bench.toml --part bell --area '1.6 dm2' --chromium '0.3 um'",
        "bathvigil plan --limit-amps 10 --bath 'north tank' --bath-litres 9 --area '1.6 dm2' "
        "--volts 9",
    ),
)
@config_option
@limit_option
@at_limit_option
@litres_option
@cells_option
@click.option("--name", metavar="NAME", help="The supply's name; picks one of bench.toml.")
@click.option("--bath", metavar="NAME", help="The bath or pot.")
@click.option("--step", default="", metavar="NAME", help="The step of the job, such as strip.")
@click.option(
    "--way", type=click.Choice([way.value for way in Way]), help="Work in a tank, or with a swab."
)
@click.option("--part", default="", help="What is stripped, in your words.")
@click.option(
    "--area", help="Area of the part: '150 cm2', or shapes such as '2 tubes 22 x 600 mm'."
)
@click.option("--chromium", help="Chromium, by thickness or class: '0.5 um', 'Cr mp', 'SC 3'.")
@click.option(
    "--volts",
    type=Number(0.5, 1000),
    metavar="V",
    help="The volts that you want to set.  [default: those of like jobs]",
)
@click.option("--celsius", type=Number(0, 100), metavar="C", help="The bath's temperature now.")
@json_option
@store_option
def command(
    config: Path | None,
    limit_amps: float | None,
    at_limit: str | None,
    bath_litres: float | None,
    cells: int | None,
    name: str | None,
    bath: str | None,
    step: str,
    way: str | None,
    part: str,
    area: str | None,
    chromium: str | None,
    volts: float | None,
    celsius: float | None,
    as_json: bool,
    store: Path | None,
) -> None:
    """Say what a strip will draw and take, and which volts to choose, before the current flows.

    It goes by the bath's earlier runs, and says what it does not know.
    """
    if config is not None:
        if (limit_amps, at_limit, bath_litres, cells) != (None, None, None, None):
            raise WrongUse("with --config, limit, litres and cells come from bench.toml")
        supply = plan_of_bench(config, name, bath)
    elif limit_amps is None:
        raise WrongUse("which supply? Give --config bench.toml, or --limit-amps")
    else:
        facts = RunFacts(
            supply=name or "",
            address=ADDRESS,
            limit_amps=limit_amps,
            limit_kind=LimitKind(at_limit or LimitKind.TRIPS),
            bath=bath or "",
            bath_litres=bath_litres,
        )
        supply = SupplyPlan(facts, fittings=Fittings(cells=cells or 1))
    card = JobCard(
        bath=bath or "",
        step=step,
        way=None if way is None else Way(way),
        part=part,
        area_dm2=None if area is None else area_of(area),
        micrometres=None if chromium is None else micrometres_of(chromium),
    )
    _must_be_a_step(step, supply.fittings)
    asked = Asked(
        supply.facts, supply.fittings, supply.per_kelvin, card, volts, celsius, time.time_ns()
    )
    plan = _planned(store_path(store, config), asked)
    if as_json:
        click.echo(json.dumps(_as_fact(plan)))
        return
    for line in plan_lines(plan):
        click.echo(line)
    click.echo()
    for line in (NOT_AN_INTERLOCK, DEFER):
        click.echo(line)


def _must_be_a_step(step: str, fittings: Fittings) -> None:
    known = [each.name for each in fittings.steps]
    if step and step not in known:
        raise WrongUse(f"there is no step {step!r}: this bench has {', '.join(known)}")


def _planned(path: Path, asked: Asked) -> StripPlan:
    if not path.exists():
        return plan_of_job(None, asked)
    with open_store(path) as opened:
        return plan_of_job(opened, asked)


def _as_fact(plan: StripPlan) -> dict[str, object]:
    return {
        "kind": "plan",
        "limit_amps": plan.limit_amps,
        "at_limit": "holds" if plan.holds else "trips",
        "basis": plan.basis,
        "charge_ah": _span(plan.charge),
        "least_charge_ah": plan.least_charge,
        "asked": _outlook(plan.asked),
        "chosen": _outlook(plan.chosen),
        "pause_s": plan.pause_s,
        "will_do": plan.will_do,
        "most_amps": plan.most_amps,
        "celsius": plan.celsius,
        "unknown": list(plan.unknown),
        "message": choice(plan),
    }


def _outlook(outlook: Outlook | None) -> dict[str, object] | None:
    if outlook is None:
        return None
    return {
        "volts": outlook.volts,
        "amps": _span(outlook.amps),
        "end_amps": outlook.end_amps,
        "seconds": _span(outlook.seconds),
        "warming_k": outlook.warming,
        "chance_of_trip": outlook.chance_of_trip,
        "trip_in_s": outlook.trip_in_s,
    }


def _span(span: Range | None) -> dict[str, float] | None:
    return None if span is None else span._asdict()
