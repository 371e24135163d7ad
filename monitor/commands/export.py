"""`bathvigil export`: a run as a table for programs or for a spreadsheet, with its facts."""

import sys
from pathlib import Path

import click

from drivers.base.inert import inert
from monitor.base.errors import StoreDamaged, WrongUse
from monitor.commands.options import examples, store_option
from monitor.commands.places import store_path
from monitor.export.facts_export import export_facts, facts_path
from monitor.export.preview import Export, Preview, preview_of
from monitor.export.table_exports import (
    DECIMALS,
    SEPARATORS,
    Marks,
    export_csv,
    export_json_lines,
    export_parquet,
    export_spreadsheet,
    export_xlsx,
)
from monitor.export.table_source import quiet
from monitor.store.reader import open_store

LONGEST_SHOWN = 500
LONG_ROWS = 100_000
"""Rows from which on a bar shows how far an export has come."""

EXPORTS: dict[str, Export] = {
    ".csv": lambda run, to, tell: export_csv(run, to, tell=tell),
    ".jsonl": lambda run, to, tell: export_json_lines(run, to, tell=tell),
    ".parquet": lambda run, to, tell: export_parquet(run, to, tell=tell),
    ".xlsx": lambda run, to, tell: export_xlsx(run, to, tell=tell),
}


@click.command(
    "export",
    epilog=examples(
        "bathvigil export 3 --to strip-3.csv",
        "bathvigil export 3 --to strip-3.csv --preview",
        "bathvigil export 3 --to strip-3.jsonl",
        "bathvigil export 3 --to strip-3.parquet",
        "bathvigil export 3 --to strip-3.xlsx",
        "bathvigil export 3 --to strip-3.csv --for spreadsheet --separator ';' --decimal ,",
    ),
)
@click.argument("run", type=int)
@click.option(
    "--to",
    type=click.Path(path_type=Path, dir_okay=False),
    required=True,
    help="The file to write; its ending sets the format. Replaced as a whole, or left as it was.",
)
@click.option(
    "--for",
    "reader",
    type=click.Choice(["machines", "spreadsheet"]),
    default="machines",
    help="A CSV file for programs (comma, point, UTC) or for a spreadsheet (local time).",
)
@click.option(
    "--separator",
    type=click.Choice([*SEPARATORS[:2], "tab"]),
    default=None,
    help="For a spreadsheet: between the cells.  [default: ;]",
)
@click.option(
    "--decimal",
    type=click.Choice(DECIMALS),
    default=None,
    help="For a spreadsheet: the decimal mark.  [default: ,]",
)
@click.option(
    "--preview",
    is_flag=True,
    help="Show the first lines and the size; write nothing.",
)
@store_option
def command(
    run: int,
    to: Path,
    reader: str,
    separator: str | None,
    decimal: str | None,
    preview: bool,
    store: Path | None,
) -> None:
    """Write RUN to a table with a row for every due poll, and its facts beside it."""
    export = _export(to, reader, separator, decimal)
    with open_store(store_path(store)) as opened:
        stored = opened.run(run)
        if preview:
            _show(preview_of(stored, export, to.suffix.lower()), run, to)
            return
        unsound = stored.what_is_unsound()
        if unsound is not None:
            raise StoreDamaged(f"{opened.path}: {unsound}; keep a copy of the store")
        summary = stored.summary()
        length = summary.samples + summary.missing
        if length >= LONG_ROWS and sys.stderr.isatty():
            with click.progressbar(length=length, label=f"run {run}", file=sys.stderr) as bar:
                rows = export(stored, to, bar.update)
        else:
            rows = export(stored, to, quiet)
        export_facts(stored, facts_path(to))
    click.echo(f"wrote {rows} rows of run {run} to {to}, its facts to {facts_path(to)}", err=True)


def _show(preview: Preview, run: int, to: Path) -> None:
    """Print the lines to stdout, what they are to stderr."""
    for line in preview.lines:
        # A stranger's store may hold anything, and this goes to a terminal.
        click.echo("\t".join(inert(part, LONGEST_SHOWN) for part in line.split("\t")))
    size = f"{preview.size_bytes / 1e6:,.1f} MB"
    if preview.size_bytes < 1e6:
        size = f"{preview.size_bytes / 1e3:,.0f} kB"
    click.echo(
        f"{to} would hold {preview.rows} rows of run {run}, about {size}; nothing was written",
        err=True,
    )


def _export(to: Path, reader: str, separator: str | None, decimal: str | None) -> Export:
    ending = to.suffix.lower()
    if ending not in EXPORTS:
        raise WrongUse(f"--to {to}: the name must end in one of {', '.join(EXPORTS)}")
    if reader == "machines":
        if separator is not None or decimal is not None:
            raise WrongUse("--separator and --decimal need --for spreadsheet; add it")
        return EXPORTS[ending]
    if ending != ".csv":
        raise WrongUse(f"--for spreadsheet makes a .csv file; {ending} needs no --for")
    marks = Marks("\t" if separator == "tab" else separator or ";", decimal or ",")
    return lambda run, to, tell: export_spreadsheet(run, to, marks, tell=tell)
