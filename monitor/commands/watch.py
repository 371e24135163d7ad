"""`bathvigil watch`: the live screen, on a recorder that is started if none runs."""

from pathlib import Path

import click

from monitor.base.errors import WrongUse
from monitor.commands.options import examples, store_option
from monitor.commands.places import store_path
from monitor.commands.planning import Asked, asks_what_to_record
from monitor.commands.screen import Browsers, need_terminal, show, shows_in_browser
from monitor.recorder.launching import launch_recorder, runs_going_on
from monitor.recorder.lock import holder
from monitor.recorder.sound.bells import lends_its_bell
from monitor.store.reader import open_store
from monitor.text.copying import what_to_copy


@click.command(
    "watch",
    epilog=examples(
        "bathvigil watch scpi:/dev/ttyUSB0 --limit-amps 10 --bath 'north tank'",
        "bathvigil watch --config bench.toml",
        "bathvigil watch",
    ),
)
@asks_what_to_record
@store_option
@click.option("--no-card", is_flag=True, help="Do not ask for the job card.")
@shows_in_browser
def command(asked: Asked, store: Path | None, no_card: bool, place: Browsers | None) -> int:
    """Watch the supply at ADDRESS, or those of bench.toml, on the live screen.

    Several supplies are shown as an overview. When you close the screen, the recorder goes on;
    `watch` again comes back to it.
    """
    need_terminal(place)
    path = store_path(store, asked.config)
    with lends_its_bell(path.absolute()):
        return _watch(path, asked, no_card, place)


def _watch(path: Path, asked: Asked, no_card: bool, place: Browsers | None) -> int:
    """Watch from a terminal whose bell the recorder may ring."""
    recorder = holder(path)
    begins = recorder is None
    if recorder is not None:
        runs = runs_going_on(path, recorder)
    else:
        asked.plans()  # wrong use is reported before anything starts
        runs = launch_recorder(path.absolute(), asked.arguments()).runs
    meant = _meant(path, runs, asked)
    card = ["--card"] if begins and not no_card and place is None else []
    if len(meant) == 1:
        code = show("live", path, meant[0], *card, place=place)
    else:
        code = show("overview", path, None, *card, place=place)
    if holder(path) is not None:
        again = f"bathvigil watch --store {path}"
        click.echo(f"The recorder keeps running. To come back: {again}", err=True)
    else:
        with open_store(path) as opened:
            click.echo(what_to_copy(path, opened.stands_alone), err=True)
    return code


def _meant(path: Path, runs: tuple[int, ...], asked: Asked) -> list[int]:
    """The runs to show: those of the supply that was named or addressed, or all."""
    with open_store(path) as opened:
        rows = [opened.run(run).row for run in runs]
    meant = [
        row.run
        for row in rows
        if asked.name in (None, row.facts.supply) and asked.address in (None, row.facts.address)
    ]
    if not meant:
        names = ", ".join(row.facts.supply for row in rows) or "none"
        raise WrongUse(
            f"the recorder of {path} records other supplies ({names}); give another --store"
        )
    return meant
