"""`bathvigil backup`: a complete copy of a store, also of one that is being recorded into."""

import sys
from pathlib import Path

import click

from monitor.base.errors import StoreDamaged, WrongUse
from monitor.commands.options import examples, store_option
from monitor.commands.places import store_path
from monitor.store.backup import back_up


@click.command("backup", epilog=examples("bathvigil backup /media/stick/bathvigil-copy.db"))
@click.argument("to", type=click.Path(path_type=Path, dir_okay=False))
@store_option
@click.option("--replace", "may_replace", is_flag=True, help="Overwrite an existing file.")
def command(to: Path, store: Path | None, may_replace: bool) -> None:
    """Copy all runs to the file TO, also while they are recorded, and verify the copy.

    Do not copy the store yourself while a recorder runs: its newest rows lie in a log beside it.
    This copy holds them.
    """
    path = store_path(store)
    if to.exists() and not may_replace:
        raise WrongUse(f"{to} is there already: name another file, or add --replace")
    if not sys.stderr.isatty():
        damaged = back_up(path, to)
    else:
        with click.progressbar(length=1, label="copying", file=sys.stderr) as bar:
            done = 0

            def tell(left: int, every: int) -> None:
                nonlocal done
                bar.length = every
                bar.update(every - left - done)
                done = every - left

            damaged = back_up(path, to, tell)
    if damaged:
        raise StoreDamaged(
            f"{to} holds all of {path}, but so it is damaged as well: {'; '.join(damaged)}"
        )
    click.echo(f"{to} holds all of {path} and needs no other file", err=True)
