"""`bathvigil report`: a run, or the life of a bath, as a page to hand on."""

from pathlib import Path

import click

from monitor.base.errors import StoreDamaged, WrongUse
from monitor.base.whole_file import whole_file, whole_path
from monitor.baths.bath_view import view_of
from monitor.commands.options import examples, store_option
from monitor.commands.places import store_path
from monitor.export.bath_report import bath_report
from monitor.export.pdf import print_pdf
from monitor.export.run_report import run_report
from monitor.store.reader import open_store


@click.command(
    "report",
    epilog=examples(
        "bathvigil report 3 --to strip-3.html",
        "bathvigil report 3 --to strip-3.pdf",
        "bathvigil report --bath 'north tank' --to tank.html",
    ),
)
@click.argument("run", type=int, required=False)
@click.option("--bath", "bath", metavar="NAME", help="Instead of RUN: the life of this bath.")
@click.option(
    "--to",
    type=click.Path(path_type=Path, dir_okay=False),
    required=True,
    help="The file to write, .html or .pdf. It is replaced as a whole, or left as it was.",
)
@store_option
def command(run: int | None, bath: str | None, to: Path, store: Path | None) -> None:
    """Write a report of RUN: one file that opens offline and prints on two pages."""
    if (run is None) == (bath is None):
        raise WrongUse("choose one: a RUN, or --bath NAME")
    if to.suffix.lower() not in (".html", ".pdf"):
        raise WrongUse(f"--to {to}: the name must end in .html or .pdf")
    path = store_path(store)
    html = _of_bath(path, bath) if bath is not None else _of_run(path, run or 0)
    if to.suffix.lower() == ".html":
        with whole_file(to) as file:
            file.write(html)
    else:
        with whole_path(to) as part:
            print_pdf(html, part)
    click.echo(f"wrote the report to {to}", err=True)


def _of_run(path: Path, run: int) -> str:
    with open_store(path) as opened:
        stored = opened.run(run)
        unsound = stored.what_is_unsound()
        if unsound is not None:
            raise StoreDamaged(f"{opened.path}: {unsound}; keep a copy of the store")
        return run_report(opened, stored)


def _of_bath(path: Path, bath: str) -> str:
    return bath_report(view_of(path, bath))
