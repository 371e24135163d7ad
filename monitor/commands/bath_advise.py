"""`bathvigil bath advise`: let a bath cool, dilute it or replace it, with amounts and reasons."""

import statistics
from pathlib import Path

import click

from monitor.analysis.bath_heat import CAUSTIC_PER_KELVIN
from monitor.analysis.conductance import STATED_VOLTS
from monitor.base.errors import WrongUse
from monitor.baths.bath_view import view_of
from monitor.baths.cautions import OF_A_DILUTION, OF_A_REPLACEMENT, WASTE
from monitor.baths.dilution import Draw, Remedy, advice
from monitor.baths.standing_advice import usual_draw
from monitor.commands.bath_entries import (
    AMOUNT,
    LITRES,
    bath_argument,
    bath_settings,
    floor_of,
    lead_ohms_of,
    warn,
)
from monitor.commands.options import Number, config_option, examples, store_option
from monitor.commands.places import store_path
from monitor.export.bath_text import advice_lines


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
    view = view_of(path, bath)
    if amps is None or aim is None or volts is None:
        if (amps, aim, volts) != (None, None, None):
            raise WrongUse("give --amps, --aim and --volts together, or none of them")
        found = usual_draw(view.state, view.runs, view.contacts)
        if found is None:
            raise WrongUse(
                f"{bath} has no two similar jobs since its make-up: give --amps, --aim and --volts"
            )
        at_25, aim = found
        amps, volts, celsius, usual_celsius = at_25.amps, at_25.volts, 25.0, 25.0
        click.echo(
            f"The usual job starts at {amps:.2f} A, {volts:.1f} V, 25 C; bath fresh: {aim:.2f} A."
        )
    settings = bath_settings(config, bath)
    holds = litres or view.state.litres or (settings.litres if settings else None)
    if holds is None:
        raise WrongUse(f"how much is in {bath}? Give --litres, or enter its make-up")
    starts = [run.celsius for run in view.runs if run.celsius is not None]
    usual = usual_celsius or (statistics.median(starts) if starts else 25.0)
    learned = [run.polarisation_volts for run in view.runs[-8:]]
    e0 = statistics.median(learned) if learned else STATED_VOLTS
    told = advice(
        Draw(amps, volts, e0, celsius, usual, lead_ohms_of(view, supply)),
        aim,
        holds,
        view.exponent,
        per_kelvin=settings.per_kelvin if settings else CAUSTIC_PER_KELVIN,
        holds_litres=settings.holds_litres if settings else None,
        grams_per_litre=view.state.grams_per_litre,
        floor_grams_per_litre=floor_of(settings, view.state.solution),
    )
    for line in advice_lines(told, swab):
        click.echo(line)
    if celsius is None:
        click.echo("The bath's temperature is not known. If it is warm, let it cool first.")
    if told.remedy is Remedy.DILUTE:
        warn((*OF_A_DILUTION, WASTE) if told.drawn_litres > 0.0 else OF_A_DILUTION)
    elif told.remedy is Remedy.REPLACE:
        warn(OF_A_REPLACEMENT)
