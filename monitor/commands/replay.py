"""`bathvigil replay`: a CSV file in, what the recorder would have said of it out."""

import sys
from pathlib import Path

import click

from monitor.commands.options import horizon_option, json_option, litres_option, supply_option
from monitor.reports.csv_input import read_csv
from monitor.reports.json_lines import Line, as_text
from monitor.reports.plain_lines import plain_line
from monitor.reports.telling import Telling
from monitor.store.rows import LimitKind, RunFacts
from monitor.vigil import Vigil

HORIZON_S = 120.0
POLL_S = 0.2
"""Distance of the rows where a table is too short to tell."""


@click.command(
    "replay",
    epilog="Example: bathvigil replay run.csv --limit-amps 10 --forecast-every 10 --json",
)
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--limit-amps",
    type=click.FloatRange(min=0, min_open=True),
    required=True,
    metavar="A",
    help="Amps at which the supply cuts out, or holds the current.",
)
@supply_option
@litres_option
@horizon_option
@click.option(
    "--forecast-every",
    "forecast_every_s",
    type=click.FloatRange(min=0),
    metavar="S",
    help="Print the forecast every S seconds of the run; 0 for every row.",
)
@json_option
def command(
    file: Path,
    limit_amps: float,
    limit_kind: str | None,
    bath_litres: float | None,
    horizon_s: float | None,
    forecast_every_s: float | None,
    as_json: bool,
) -> None:
    """Run the estimators and alarms over FILE, a CSV with columns t_s,volts,amps[,celsius]."""
    rows = read_csv(file)
    facts = RunFacts(
        supply="replay",
        address="",
        limit_amps=limit_amps,
        limit_kind=LimitKind(limit_kind or LimitKind.TRIPS),
        bath_litres=bath_litres,
        poll_s=rows.step_s or POLL_S,
        horizon_s=horizon_s or HORIZON_S,
    )
    vigil = Vigil(facts)
    telling = Telling(forecast_every_s)
    tell = _tell_json if as_json else _tell_plainly
    for row in rows:
        for line in telling.lines(row, vigil.update(row)):
            tell(line)
    tell(telling.summary())


def _tell_json(line: Line) -> None:
    sys.stdout.write(as_text(line) + "\n")


def _tell_plainly(line: Line) -> None:
    click.echo(plain_line(line))
