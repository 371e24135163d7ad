"""`bathvigil export`: one run as a CSV file."""

from pathlib import Path

import click

from monitor.commands.options import store_option
from monitor.commands.places import store_path
from monitor.reports.csv_export import export_csv
from monitor.store.reader import open_store


@click.command("export", epilog="Example: bathvigil export 3 --to strip-3.csv")
@click.argument("run", type=int)
@click.option(
    "--to",
    type=click.Path(path_type=Path, dir_okay=False),
    required=True,
    help="The file to write; replaced as a whole, or left as it was.",
)
@store_option
def command(run: int, to: Path, store: Path | None) -> None:
    """Write RUN to a CSV file with a row for every due poll."""
    with open_store(store_path(store)) as opened:
        rows = export_csv(opened.run(run), to)
    click.echo(f"{rows} rows of run {run} are in {to}", err=True)
