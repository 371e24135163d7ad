"""`bathvigil bath leads`: resistance of leads and contacts, measured with the clips together."""

import statistics
from pathlib import Path

import click

from drivers.base.clock import SystemClock
from monitor.base.errors import WrongUse
from monitor.baths.bath_view import must_be_known, view_of
from monitor.baths.connection import contacts_of
from monitor.commands.bath_entries import (
    AMOUNT,
    add,
    bath_argument,
    by_option,
    copper_of,
    ohms_of_run,
)
from monitor.commands.options import config_option, examples, range_of, store_option
from monitor.commands.places import store_path
from monitor.model.entry import Entry, Kind, in_force
from monitor.model.ranges import GaugeAwg, LoopMetres
from monitor.store.bath_rows import BathBook


@click.command(
    "leads",
    epilog=examples("bathvigil bath leads 'north tank' --supply bench-2 --volts 0.31 --amps 10"),
)
@bath_argument
@click.option(
    "--supply", "supply", metavar="NAME", required=True, help="The supply of these leads."
)
@click.option(
    "--run", "run", type=int, metavar="N", help="A run with the clips together, at several volts."
)
@click.option(
    "--volts", type=AMOUNT, metavar="V", help="Instead of --run: the volts with the clips together."
)
@click.option("--amps", type=AMOUNT, metavar="A", help="With --volts: the amps that flowed.")
@click.option(
    "--gauge-awg",
    type=range_of(GaugeAwg),
    metavar="AWG",
    help="Wire gauge of the leads.  [default: that of bench.toml]",
)
@click.option(
    "--loop-metres",
    type=range_of(LoopMetres),
    metavar="M",
    help="Length of the copper, there and back.",
)
@by_option
@store_option
@config_option
def leads(
    bath: str,
    supply: str,
    run: int | None,
    volts: float | None,
    amps: float | None,
    gauge_awg: float | None,
    loop_metres: float | None,
    by: str,
    store: Path | None,
    config: Path | None,
) -> None:
    """Measure leads and contacts: clips held together, out of the bath, at low volts.

    Gauge and length give the copper (ASTM B258); the rest is the contacts.
    """
    path = store_path(store, config)
    must_be_known(path, bath)
    if (run is None) == (volts is None or amps is None):
        raise WrongUse("choose one: --run N, or --volts and --amps")
    ohms = ohms_of_run(path, run) if run is not None else (volts or 0.0) / (amps or 1.0)
    copper = copper_of(config, supply, gauge_awg, loop_metres)
    now = SystemClock().utc_ns()
    add(path, Entry(bath, Kind.LEADS, now, supply=supply, ohms=ohms, by=by))
    looks = [
        entry.ohms
        for entry in in_force(BathBook(path).entries())
        if entry.kind is Kind.LEADS and entry.supply == supply and entry.ohms is not None
    ]
    contacts = contacts_of(looks, None if copper is None else copper.ohms())
    runs = [job for job in view_of(path, bath).runs if job.set_up.supply == supply]
    usual = [job.peak_amps for job in runs if job.peak_amps is not None]
    at_amps = statistics.median(usual) if usual else 10.0
    copper_text = (
        "gauge and length unknown"
        if contacts.copper_ohms is None
        else (f"copper {contacts.copper_ohms * 1000.0:.1f} milliohm")
    )
    click.echo(
        f"leads and contacts {contacts.ohms * 1000.0:.1f} milliohm, {copper_text}, contacts "
        f"{contacts.contact_ohms * 1000.0:.1f}; at {at_amps:.1f} A they take "
        f"{contacts.volts_lost(at_amps):.2f} V and {contacts.watts_lost(at_amps):.1f} W"
    )
    if contacts.grown is not None:
        click.echo(
            f"the contacts are {contacts.grown:.1f} times what they were at the first measurement"
        )
    if contacts.wants_cleaning(at_amps):
        click.echo(
            "Output OFF. CLEAN clips, plugs and bus bars; they may be hot. Then measure again."
        )
