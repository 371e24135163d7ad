"""`bathvigil bath titrate` and `bath add-caustic`: strengths measured, and caustic put in."""

from dataclasses import replace

import click

from monitor.base.errors import WrongUse
from monitor.baths.cautions import OF_AN_ADDITION
from monitor.commands.bath_entries import (
    AMOUNT,
    LITRES,
    Written,
    add,
    bath_argument,
    pour,
    warn,
    writes_an_entry,
)
from monitor.commands.options import Number, examples
from monitor.model.entry import Kind


@click.command(
    "titrate",
    epilog=examples("bathvigil bath titrate 'north tank' --caustic 48 --carbonate 21 --by Jo"),
)
@bath_argument
@click.option("--caustic", type=AMOUNT, metavar="G/L", help="Caustic, as NaOH.")
@click.option("--carbonate", type=Number(0, 10_000), metavar="G/L", help="Carbonate, as Na2CO3.")
@writes_an_entry
def titrate(written: Written, caustic: float | None, carbonate: float | None) -> None:
    """Enter a titration; it takes precedence over the strength that the ledger works out."""
    path = written.known_path()
    if caustic is None and carbonate is None:
        raise WrongUse("give --caustic, --carbonate or both, in g/L")
    entry = written.entry(Kind.TITRATION)
    add(path, replace(entry, grams_per_litre=caustic, carbonate_grams_per_litre=carbonate))


@click.command(
    "add-caustic",
    epilog=examples("bathvigil bath add-caustic 'north tank' --grams 120 --by Jo"),
)
@bath_argument
@click.option("--grams", type=AMOUNT, required=True, metavar="G", help="Caustic added, as NaOH.")
@click.option("--litres", type=LITRES, metavar="L", help="Litres of solution that it came in.")
@writes_an_entry
def add_caustic(written: Written, grams: float, litres: float | None) -> None:
    """Enter caustic that was added."""
    path = written.known_path()
    pour(path, replace(written.entry(Kind.ADDITION, litres), caustic_grams=grams))
    warn(OF_AN_ADDITION)
