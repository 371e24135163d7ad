"""`bathvigil salvage`: all that is sound of a damaged store, in a new one."""

from pathlib import Path

import click

from monitor.base.errors import StoreDamaged
from monitor.commands.options import examples
from monitor.store.salvage import salvage


@click.command(
    "salvage",
    epilog=examples("bathvigil salvage bathvigil.damaged.db --to new.db"),
)
@click.argument("store", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--to",
    type=click.Path(path_type=Path, dir_okay=False),
    required=True,
    help="The new store. It must not be there yet.",
)
def command(store: Path, to: Path) -> None:
    """Copy all that is sound of the damaged file STORE into a new store. STORE is only read."""
    salvaged = salvage(store, to)
    runs = f"{salvaged.runs} run{'' if salvaged.runs == 1 else 's'}"
    click.echo(f"{to} holds {runs} of {store}", err=True)
    for words in salvaged.lost:
        click.echo(f"lost: {words}", err=True)
    if salvaged.lost:
        raise StoreDamaged(f"not all of {store} could be read; keep it")
