"""`bathvigil watch`: the live screen, on a recorder that is started if none runs."""

from pathlib import Path

import click

from monitor.acquiring.launching import launch_recorder, runs_going_on
from monitor.acquiring.lock import holder
from monitor.commands.options import store_option
from monitor.commands.places import store_path
from monitor.commands.planning import Asked, asks_what_to_record
from monitor.commands.screen import has_terminal, show
from monitor.errors import BathvigilError, WrongUse
from monitor.store.reader import open_store


@click.command(
    "watch",
    epilog="Example: bathvigil watch scpi:/dev/ttyUSB0 --limit-amps 10 --bath 'north tank'",
)
@asks_what_to_record
@store_option
def command(asked: Asked, store: Path | None) -> int:
    """Watch the supply at ADDRESS, or one of bench.toml, on the live screen.

    Closing the screen leaves the recorder running; `watch` again comes back to it.
    """
    if not has_terminal():
        raise BathvigilError("the screen needs a terminal; without one, use `bathvigil record`")
    path = store_path(store, asked.config)
    recorder = holder(path)
    if recorder is not None:
        runs = runs_going_on(path, recorder)
    else:
        asked.plans()  # what was typed wrongly is told before anything starts
        runs = launch_recorder(path.absolute(), asked.arguments()).runs
    code = show("live", path, _choose(path, runs, asked))
    if holder(path) is not None:
        again = f"bathvigil watch --store {path}"
        click.echo(f"The recorder goes on. Come back with: {again}", err=True)
    return code


def _choose(path: Path, runs: tuple[int, ...], asked: Asked) -> int:
    """The run that was meant: by the supply's name or address, or the only one."""
    with open_store(path) as opened:
        rows = [opened.run(run).row for run in runs]
    meant = [
        row
        for row in rows
        if asked.name in (None, row.facts.supply) and asked.address in (None, row.facts.address)
    ]
    if len(meant) == 1:
        return meant[0].run
    names = ", ".join(row.facts.supply for row in rows) or "none"
    if not meant:
        raise WrongUse(
            f"the recorder of {path} watches other supplies ({names}); give another --store"
        )
    raise WrongUse(f"several supplies are being recorded: choose with --name ({names})")
