"""`bathvigil review`: a run looked at again, on the screen or as text."""

from pathlib import Path

import click

from monitor.commands.options import store_option
from monitor.commands.places import store_path
from monitor.commands.screen import has_terminal, show
from monitor.reports.run_text import run_text
from monitor.store.reader import open_store


@click.command("review", epilog="Example: bathvigil review 3")
@click.argument("run", type=int)
@store_option
@click.option("--text", "as_text", is_flag=True, help="Print the run's story instead.")
def command(run: int, store: Path | None, as_text: bool) -> int:
    """Look at RUN again; without a terminal its story is printed."""
    path = store_path(store)
    with open_store(path) as opened:
        stored = opened.run(run)
        if as_text or not has_terminal():
            click.echo(run_text(stored))
            return 0
    return show("review", path, run)
