"""What the ledger's commands share: options, entries for the store, figures of the bench."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import wraps
from pathlib import Path
from typing import TypeVar

import click

from drivers.base.clock import SystemClock
from monitor.base.errors import WrongUse
from monitor.baths.bath_view import BathView, must_be_known
from monitor.baths.connection import line_through
from monitor.baths.job_run import Vessel, vessel_of
from monitor.baths.ledger import impossible_amount
from monitor.commands.options import Number, range_of, store_option, together
from monitor.commands.places import store_path
from monitor.export.bath_text import entry_line
from monitor.model.entry import Entry, Kind
from monitor.model.leads import Leads
from monitor.model.ranges import Litres
from monitor.settings import load_bench
from monitor.store.bath_rows import BathBook
from monitor.store.reader import open_store

R = TypeVar("R")

AMOUNT = Number(min=0, min_open=True, max=10_000)
LITRES = range_of(Litres)
by_option = click.option("--by", default="", metavar="NAME", help="Who did it.")
bath_argument = click.argument("bath")


@dataclass(frozen=True, slots=True)
class Written:
    """What every new entry says, as it was given: whose it is, when, by whom, in which store."""

    bath: str
    moment: str | None
    by: str
    store: Path | None

    def known_path(self) -> Path:
        """The store, which must know the bath."""
        path = store_path(self.store)
        must_be_known(path, self.bath)
        return path

    def entry(self, kind: Kind, litres: float | None = None) -> Entry:
        """An entry of that kind, without what only its kind has."""
        return Entry(self.bath, kind, moment_ns(self.moment), litres, by=self.by)


def writes_an_entry(function: Callable[..., R]) -> Callable[..., R]:
    """Give a command the options of every new entry, as one `written: Written`; BATH is its own."""

    @wraps(function)
    def writing(bath: str, moment: str | None, by: str, store: Path | None, **given: object) -> R:
        return function(written=Written(bath, moment, by, store), **given)

    return together(
        click.option(
            "--at",
            "moment",
            metavar="TIME",
            help="When it was done, in local time, such as 2026-03-01T08:15.  [default: now]",
        ),
        by_option,
        store_option,
    )(writing)


def vessel_in(config: Path | None, bath: str) -> Vessel | None:
    """The bath as bench.toml describes it; None where that says nothing."""
    table = None if config is None else load_bench(config).baths.get(bath)
    return None if table is None else vessel_of(table.model_dump())


def copper_of(
    config: Path | None, supply: str, gauge_awg: float | None, loop_metres: float | None
) -> Leads | None:
    """Gauge and length of a supply's leads, from options or settings; None where unknown."""
    if (gauge_awg is None) != (loop_metres is None):
        raise WrongUse("--gauge-awg and --loop-metres go together")
    if gauge_awg is not None and loop_metres is not None:
        return Leads(gauge_awg, loop_metres)
    if config is None:
        return None
    bench = load_bench(config)
    return bench.fittings(supply).leads if supply in bench.supplies else None


def lead_ohms_of(view: BathView, supply: str | None) -> float:
    """Resistance of leads and contacts when last measured; 0 if never."""
    last = view.runs[-1].set_up.supply if view.runs else None
    contacts = view.contacts.get(supply or last or next(iter(view.contacts), ""))
    return 0.0 if contacts is None else contacts.ohms


def ohms_of_run(path: Path, run: int) -> float:
    """The resistance that a run with the clips together shows."""
    with open_store(path) as opened:
        columns = opened.run(run).columns(400)
    pairs = [(c.volts_mean, c.amps_mean) for c in columns]
    points = [(v, a) for v, a in pairs if v is not None and a is not None and a > 0.0]
    return line_through(points).ohms


def moment_ns(text: str | None) -> int:
    """What `--at` means, or now, in nanoseconds since 1970 UTC; local time without an offset."""
    now = SystemClock().utc_ns()
    if text is None:
        return now
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise WrongUse(f"--at {text}: write it like 2026-03-01T08:15, in local time") from error
    at_ns = int(moment.timestamp()) * 1_000_000_000
    if at_ns > now:
        raise WrongUse(f"--at {text}: is in the future; enter only what has been done")
    return at_ns


def pour(path: Path, entry: Entry) -> None:
    """Add what was poured in, or its correction, unless the amounts are impossible."""
    so_far = BathBook(path).entries(entry.bath)
    trouble = impossible_amount([*so_far, entry])
    # Earlier impossible entries are no reason to refuse another one.
    if trouble is not None and impossible_amount(so_far) is None:
        raise WrongUse(trouble)
    add(path, entry)


def add(path: Path, entry: Entry) -> None:
    """Store an entry and print it."""
    if not entry.bath.strip() or not entry.bath.isprintable() or len(entry.bath) > 40:
        raise WrongUse("a bath's name needs 1 to 40 printable characters")
    number = BathBook(path).add(entry)
    stored = next(
        candidate for candidate in BathBook(path).entries(entry.bath) if candidate.entry == number
    )
    click.echo(f"{entry.bath}: {entry_line(stored)}", err=True)


def warn(cautions: tuple[str, ...]) -> None:
    """Say cautions on stderr, in one paragraph."""
    click.echo(f"CAUTION: {' '.join(cautions)}", err=True)
