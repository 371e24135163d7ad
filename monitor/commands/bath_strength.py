"""`bathvigil bath titrate` and `bath add-caustic`: strengths measured, and caustic put in."""

from pathlib import Path

import click

from monitor.base.errors import WrongUse
from monitor.baths.bath_view import must_be_known
from monitor.baths.cautions import OF_AN_ADDITION
from monitor.commands.bath_entries import (
    AMOUNT,
    LITRES,
    add,
    at_option,
    bath_argument,
    by_option,
    moment_ns,
    pour,
    warn,
)
from monitor.commands.options import Number, examples, store_option
from monitor.commands.places import store_path
from monitor.model.entry import Entry, Kind


@click.command(
    "titrate",
    epilog=examples("bathvigil bath titrate 'north tank' --caustic 48 --carbonate 21 --by Jo"),
)
@bath_argument
@click.option("--caustic", type=AMOUNT, metavar="G/L", help="Caustic, as NaOH.")
@click.option("--carbonate", type=Number(0, 10_000), metavar="G/L", help="Carbonate, as Na2CO3.")
@at_option
@by_option
@store_option
def titrate(
    bath: str,
    caustic: float | None,
    carbonate: float | None,
    moment: str | None,
    by: str,
    store: Path | None,
) -> None:
    """Enter a titration; it takes precedence over the strength that the ledger works out."""
    path = store_path(store)
    must_be_known(path, bath)
    if caustic is None and carbonate is None:
        raise WrongUse("give --caustic, --carbonate or both, in g/L")
    add(
        path,
        Entry(
            bath,
            Kind.TITRATION,
            moment_ns(moment),
            grams_per_litre=caustic,
            carbonate_grams_per_litre=carbonate,
            by=by,
        ),
    )


@click.command(
    "add-caustic",
    epilog=examples("bathvigil bath add-caustic 'north tank' --grams 120 --by Jo"),
)
@bath_argument
@click.option("--grams", type=AMOUNT, required=True, metavar="G", help="Caustic added, as NaOH.")
@click.option("--litres", type=LITRES, metavar="L", help="Litres of solution that it came in.")
@at_option
@by_option
@store_option
def add_caustic(
    bath: str, grams: float, litres: float | None, moment: str | None, by: str, store: Path | None
) -> None:
    """Enter caustic that was added."""
    path = store_path(store)
    must_be_known(path, bath)
    pour(path, Entry(bath, Kind.ADDITION, moment_ns(moment), litres, caustic_grams=grams, by=by))
    warn(OF_AN_ADDITION)
