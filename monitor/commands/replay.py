"""`bathvigil replay`: what the recorder would say about a table or a recorded run."""

import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import click

from monitor.analysis.bath_heat import CAUSTIC_PER_KELVIN
from monitor.base.errors import WrongUse
from monitor.commands.main import complain
from monitor.commands.options import (
    Number,
    at_limit_option,
    cells_option,
    examples,
    horizon_option,
    json_option,
    limit_option,
    litres_option,
    reaction_option,
    store_option,
)
from monitor.commands.places import store_path
from monitor.export.event_lines import EventLines, Line, as_text, plain_line
from monitor.export.table_input import read_table
from monitor.export.table_stream import TableStream
from monitor.model.kept_settings import kept_fittings, kept_number
from monitor.model.ranges import POLL_S
from monitor.model.request import Request
from monitor.model.run import LimitKind, RunFacts
from monitor.model.sample import Gap, Sample
from monitor.recorder.past_requests import PastRequests
from monitor.store.reader import open_store
from monitor.watch.paced_vigil import PacedVigil
from monitor.watch.vigil import Vigil

NO_DATA_AFTER_S = 5.0


@click.command(
    "replay",
    epilog=examples(
        "bathvigil replay run.csv --limit-amps 10 --forecast-every 10 --json",
        "bathvigil replay --run 3",
        "bathvigil replay - --limit-amps 10 --forecast-every 0 --json",
    ),
)
@click.argument(
    "file", type=click.Path(path_type=Path, dir_okay=False, allow_dash=True), required=False
)
@click.option("--run", "run", type=int, metavar="N", help="Instead of FILE: a run of the store.")
@limit_option
@at_limit_option
@litres_option
@cells_option
@horizon_option
@reaction_option
@click.option(
    "--amp-hours",
    type=Number(min=0, min_open=True),
    metavar="AH",
    help="What the strip is likely to take, for the advice which volts to set.",
)
@click.option(
    "--forecast-every",
    "forecast_every_s",
    type=Number(min=0),
    metavar="S",
    help="Print the forecast every S seconds of the run; 0 means every row.",
)
@store_option
@json_option
def command(
    file: Path | None,
    run: int | None,
    limit_amps: float | None,
    at_limit: str | None,
    bath_litres: float | None,
    cells: int | None,
    horizon_s: float | None,
    reaction_s: float | None,
    amp_hours: float | None,
    forecast_every_s: float | None,
    store: Path | None,
    as_json: bool,
) -> None:
    """Run forecast and alarms over FILE, a table with columns t_s,volts,amps[,celsius].

    FILE is CSV, or by its ending .jsonl, .parquet or .xlsx. A recorded run (--run) keeps its own
    limit and bath, unless an option says otherwise. FILE - is standard input, line by line: what a
    row means is printed before the next is read, and broken lines are left out.
    """
    if (file is None) == (run is None):
        raise WrongUse("choose one: a FILE, or --run N")
    given = _Given(limit_amps, at_limit, bath_litres, horizon_s, reaction_s, cells, amp_hours)
    tell, lines = _tell_json if as_json else _tell_plainly, EventLines(forecast_every_s)
    if file is not None:
        if limit_amps is None:
            raise WrongUse("a FILE needs --limit-amps A: the amps at which the supply cuts out")
        facts = RunFacts("replay", "", limit_amps)
        if str(file) == "-":
            _replay_stream(given, facts, lines, tell)
            return
        table = read_table(file)
        facts = replace(facts, poll_s=table.step_s or POLL_S)
        _replay(table, given.vigil(facts), lines, tell)
    if run is not None:
        with open_store(store_path(store)) as opened:
            stored = opened.run(run)
            vigil = given.vigil(stored.row.facts)
            _replay(stored.rows(), vigil, lines, tell, stored.requests())


@dataclass(frozen=True, slots=True)
class _Given:
    """The values of the options; None where an option is not given."""

    limit_amps: float | None
    at_limit: str | None
    bath_litres: float | None
    horizon_s: float | None
    reaction_s: float | None
    cells: int | None
    amp_hours: float | None

    def vigil(self, facts: RunFacts) -> Vigil:
        """The watch by these facts, with the values of the options in their place."""
        facts = replace(
            facts,
            limit_amps=self.limit_amps or facts.limit_amps,
            limit_kind=LimitKind(self.at_limit or facts.limit_kind),
            bath_litres=self.bath_litres or facts.bath_litres,
            horizon_s=max(self.horizon_s or facts.horizon_s, self.reaction_s or 0.0),
        )
        vigil = vigil_as_recorded(facts, self.cells)
        vigil.expect(amp_hours=self.amp_hours)
        return vigil


def vigil_as_recorded(facts: RunFacts, cells: int | None = None) -> Vigil:
    """The watch of a stored run, by the limits that were in force when it began.

    Where the run kept none, they are the usual ones. `cells` goes before what the run kept.
    """
    fittings = kept_fittings(facts.settings)
    after_s = kept_number(facts.settings, "in_force", "no_data_after_s")
    per_kelvin = kept_number(facts.settings, "in_force", "per_kelvin")
    return Vigil(
        facts,
        no_data_after_s=NO_DATA_AFTER_S if after_s is None else after_s,
        per_kelvin=CAUSTIC_PER_KELVIN if per_kelvin is None else per_kelvin,
        fittings=fittings if cells is None else replace(fittings, cells=cells),
    )


def _replay(
    rows: Iterable[Sample | Gap],
    vigil: Vigil,
    lines: EventLines,
    tell: Callable[[Line], None],
    requests: Sequence[Request] = (),
) -> None:
    asked = PastRequests(requests)
    for row in rows:
        asked.do(vigil, row.utc_ns)
        for line in lines.lines(row, vigil.update(row)):
            tell(line)
    tell(lines.summary())


def _replay_stream(
    given: _Given, facts: RunFacts, lines: EventLines, tell: Callable[[Line], None]
) -> None:
    stream = TableStream(sys.stdin.buffer, complain)
    vigil = PacedVigil(lambda poll_s: given.vigil(replace(facts, poll_s=poll_s)))
    for row, is_own in stream.rows():
        for line in lines.lines(row, vigil.update(row, stream.step_s), is_own):
            tell(line)
        if is_own:
            sys.stdout.flush()
    tell(lines.summary())


def _tell_json(line: Line) -> None:
    sys.stdout.write(as_text(line) + "\n")


def _tell_plainly(line: Line) -> None:
    click.echo(plain_line(line))
