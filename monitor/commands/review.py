"""`bathvigil review`: a run again, or the list of all, on the screen or as text."""

from pathlib import Path

import click

from monitor.base.errors import WrongUse
from monitor.commands.options import examples, store_option
from monitor.commands.places import store_path
from monitor.commands.screen import Browsers, has_terminal, show, shows_in_browser
from monitor.export.run_text import run_text
from monitor.store.reader import open_store
from monitor.text.copying import what_to_copy


@click.command(
    "review", epilog=examples("bathvigil review 3", "bathvigil review", "bathvigil review 3 --text")
)
@click.argument("run", type=int, required=False)
@store_option
@click.option("--text", "as_text", is_flag=True, help="Print the run as text instead.")
@shows_in_browser
def command(run: int | None, store: Path | None, as_text: bool, place: Browsers | None) -> int:
    """Look at RUN again. Without a number, show the list of runs: find, open, compare.

    Without a terminal the run is printed as text.
    """
    path = store_path(store)
    is_text = as_text or (place is None and not has_terminal())
    with open_store(path) as opened:
        if run is None:
            if is_text:
                raise WrongUse("which run? Give its number; `bathvigil runs` lists them")
            return show("runs", path, None, place=place)
        stored = opened.run(run)
        if not opened.stands_alone:
            click.echo(what_to_copy(path, stands_alone=False), err=True)
        if is_text:
            click.echo(run_text(stored))
            return 0
    return show("review", path, run, place=place)
