"""`bathvigil bath advise`: let a bath cool, dilute it or replace it, with amounts and reasons."""

import statistics
from dataclasses import replace
from pathlib import Path

import click

from monitor.analysis.conductance import STATED_VOLTS
from monitor.base.errors import WrongUse
from monitor.baths.advice import Case, advice, usual_case
from monitor.baths.bath_view import BathView, view_of
from monitor.baths.cautions import OF_A_DILUTION, OF_A_REPLACEMENT, OF_AN_ADDITION, WASTE
from monitor.baths.dilution import Draw
from monitor.commands.bath_entries import (
    AMOUNT,
    LITRES,
    bath_argument,
    lead_ohms_of,
    vessel_in,
    warn,
)
from monitor.commands.options import Number, config_option, examples, store_option
from monitor.commands.places import store_path
from monitor.model.advice import Advice, Remedy
from monitor.text.bath_advice import advice_lines

CAUTIONS = {
    Remedy.DILUTE: OF_A_DILUTION,
    Remedy.STRENGTHEN: OF_AN_ADDITION,
    Remedy.REPLACE: OF_A_REPLACEMENT,
}


@click.command(
    "advise",
    epilog=examples("bathvigil bath advise 'north tank' --amps 40 --aim 34 --volts 9 --celsius 26"),
)
@bath_argument
@click.option(
    "--amps", type=AMOUNT, metavar="A", help="Amps that it draws now.  [default: the usual job's]"
)
@click.option(
    "--aim",
    type=AMOUNT,
    metavar="A",
    help="Amps that it should draw at the same volts.  [default: the usual job's, fresh bath]",
)
@click.option("--volts", type=AMOUNT, metavar="V", help="The volts at which it draws --amps.")
@click.option("--celsius", type=Number(0, 100), metavar="C", help="The bath's temperature now.")
@click.option(
    "--usual-celsius",
    type=Number(0, 100),
    metavar="C",
    help="Its temperature when a job usually starts.",
)
@click.option(
    "--supply",
    "supply",
    metavar="NAME",
    help="The supply, for its leads.  [default: the last job's]",
)
@click.option("--swab", is_flag=True, help="The work is done with a swab.")
@click.option(
    "--litres",
    type=LITRES,
    metavar="L",
    help="Litres in the bath.  [default: by ledger or settings]",
)
@store_option
@config_option
def advise(
    bath: str,
    amps: float | None,
    aim: float | None,
    volts: float | None,
    celsius: float | None,
    usual_celsius: float | None,
    supply: str | None,
    swab: bool,
    litres: float | None,
    store: Path | None,
    config: Path | None,
) -> None:
    """Say what to do about a bath that draws too many amps: let it cool, dilute or replace it."""
    path = store_path(store, config)
    view = view_of(path, bath, vessel_in(config, bath))
    if (amps, aim, volts) == (None, None, None):
        given = {
            "--celsius": celsius is not None,
            "--usual-celsius": usual_celsius is not None,
            "--litres": litres is not None,
            "--supply": supply is not None,
            "--swab": swab,
        }
        for option, is_given in given.items():
            if is_given:
                raise WrongUse(f"{option} goes with --amps, --aim and --volts")
        proposed = _of_the_jobs(view)
    elif amps is None or aim is None or volts is None:
        raise WrongUse("give --amps, --aim and --volts together, or none of them")
    else:
        starts = [run.celsius for run in view.runs if run.celsius is not None]
        usual = usual_celsius or (statistics.median(starts) if starts else 25.0)
        learned = [run.polarisation_volts for run in view.runs[-8:]]
        e0 = statistics.median(learned) if learned else STATED_VOLTS
        draw = Draw(amps, volts, e0, celsius, usual, lead_ohms_of(view, supply))
        state = view.state if litres is None else replace(view.state, litres=litres)
        reckoned = advice(Case(draw, aim, is_swab=swab), state, view.exponent, view.vessel)
        if reckoned is None:
            raise WrongUse(f"how much is in {bath}? Give --litres, or enter its make-up")
        proposed = reckoned
    for line in advice_lines(proposed):
        click.echo(line)
    if amps is not None and celsius is None and proposed.remedy is not Remedy.NOTHING:
        click.echo("The bath's temperature is not known. If it is warm, let it cool first.")
    cautions = CAUTIONS.get(proposed.remedy, ())
    if cautions:
        warn((*cautions, WASTE) if proposed.drawn_litres > 0.0 else cautions)


def _of_the_jobs(view: BathView) -> Advice:
    """The advice that `bath show`, the screen and the report give."""
    case = usual_case(view.state, view.runs, view.contacts, view.prospect)
    if case is not None:
        click.echo(
            f"The usual job starts at {case.draw.amps:.2f} A, {case.draw.volts:.1f} V, 25 C; "
            f"bath fresh: {case.amps_aimed:.2f} A."
        )
    if view.advice is None and case is None:
        raise WrongUse(
            f"{view.bath} has no two similar jobs since its make-up: give --amps, --aim and --volts"
        )
    if view.advice is None:
        raise WrongUse(f"how much is in {view.bath}? Enter its make-up")
    return view.advice
