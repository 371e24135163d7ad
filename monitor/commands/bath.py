"""`bathvigil bath`: the ledger of the baths, and what to do about a bath."""

import json
from contextlib import suppress
from dataclasses import asdict
from dataclasses import replace as changed
from pathlib import Path

import click

from monitor.base.errors import WrongUse
from monitor.baths.bath_view import BathView, known_baths, must_be_known, view_of
from monitor.baths.cautions import OF_A_DILUTION, OF_A_MAKE_UP, OF_A_REPLACEMENT
from monitor.baths.ledger import correction_trouble
from monitor.commands.bath_advise import advise
from monitor.commands.bath_entries import (
    AMOUNT,
    LITRES,
    Written,
    add,
    bath_argument,
    by_option,
    pour,
    vessel_in,
    warn,
    writes_an_entry,
)
from monitor.commands.bath_leads import leads
from monitor.commands.bath_strength import add_caustic, titrate
from monitor.commands.options import (
    WholeSentences,
    config_option,
    examples,
    json_option,
    store_option,
    together,
)
from monitor.commands.places import store_path
from monitor.export.bath_text import bath_text, facts_of_bath
from monitor.model.entry import Kind
from monitor.store.bath_rows import BathBook
from monitor.store.failures import NoSuchStore
from monitor.store.reader import open_store

of_a_new_solution = together(
    bath_argument,
    click.option("--litres", type=LITRES, required=True, metavar="L", help="Litres of solution."),
    click.option("--grams-per-litre", type=AMOUNT, metavar="G/L", help="Strength of the solution."),
    click.option(
        "--solution",
        type=click.Choice(["caustic", "carbonate"]),
        default="caustic",
        show_default=True,
        help="What it is made of.",
    ),
    writes_an_entry,
)


@click.group(
    "bath",
    cls=WholeSentences,
    epilog=examples(
        "bathvigil bath show 'north tank'",
        "bathvigil bath make-up 'north tank' --litres 9 --grams-per-litre 50",
        "bathvigil bath advise 'north tank' --amps 40 --aim 34 --volts 9",
    ),
)
def command() -> None:
    """Keep a bath's ledger: make-up, top-ups, dilutions; see how long it lasts and what to do.

    Entries are never edited: correct a mistake with another entry.
    """


@command.command("show", epilog=examples("bathvigil bath show 'north tank'"))
@click.argument("bath", required=False)
@store_option
@config_option
@json_option
def show(bath: str | None, store: Path | None, config: Path | None, as_json: bool) -> None:
    """Show a bath's state, trend, jobs left and ledger; without BATH, the names of all."""
    path = store_path(store, config)
    for name in known_baths(path) if bath is None else [bath]:
        if bath is None and not as_json:
            click.echo(name)
            continue
        view = view_of(path, name, vessel_in(config, name))
        if as_json:
            click.echo(_as_json(view))
        else:
            click.echo(bath_text(view))
    with suppress(NoSuchStore), open_store(path) as opened:
        for damage in opened.damage():
            click.echo(f"left out: {damage}", err=True)


@command.command(
    "make-up",
    epilog=examples("bathvigil bath make-up 'north tank' --litres 9 --grams-per-litre 50 --by Jo"),
)
@of_a_new_solution
def make_up(written: Written, litres: float, grams_per_litre: float | None, solution: str) -> None:
    """Enter a new bath."""
    entry = written.entry(Kind.MAKE_UP, litres)
    entry = changed(entry, grams_per_litre=grams_per_litre, solution=solution)
    add(store_path(written.store), entry)
    warn(OF_A_MAKE_UP)


@command.command(
    "replace",
    epilog=examples("bathvigil bath replace 'north tank' --litres 9 --grams-per-litre 50 --by Jo"),
)
@of_a_new_solution
def replace(written: Written, litres: float, grams_per_litre: float | None, solution: str) -> None:
    """Enter that fresh solution has replaced the old one."""
    path, entry = written.known_path(), written.entry(Kind.REPLACEMENT, litres)
    add(path, changed(entry, grams_per_litre=grams_per_litre, solution=solution))
    warn(OF_A_REPLACEMENT)


@command.command("top-up", epilog=examples("bathvigil bath top-up 'north tank' --litres 0.4"))
@bath_argument
@click.option("--litres", type=LITRES, required=True, metavar="L", help="Litres of water added.")
@writes_an_entry
def top_up(written: Written, litres: float) -> None:
    """Enter water added for what evaporated."""
    pour(written.known_path(), written.entry(Kind.TOP_UP, litres))


@command.command(
    "dilute",
    epilog=examples(
        "bathvigil bath dilute 'north tank' --drawn 1.5 --litres 1.5",
        "bathvigil bath dilute 'north tank' --litres 1.5 --amps 40 --aim 34 --volts 9",
    ),
)
@bath_argument
@click.option(
    "--litres", type=LITRES, required=True, metavar="L", help="Litres of distilled water added."
)
@click.option(
    "--drawn", "drawn", type=LITRES, metavar="L", help="Litres of solution taken out before."
)
@click.option("--amps", type=AMOUNT, metavar="A", help="Amps that it drew before.")
@click.option("--aim", type=AMOUNT, metavar="A", help="Amps that it should draw at the same volts.")
@click.option("--volts", type=AMOUNT, metavar="V", help="The volts at which it drew --amps.")
@click.option(
    "--supply", "supply", default="", metavar="NAME", help="The supply that showed the amps."
)
@writes_an_entry
def dilute(
    written: Written,
    litres: float,
    drawn: float | None,
    amps: float | None,
    aim: float | None,
    volts: float | None,
    supply: str,
) -> None:
    """Enter a dilution. Give --amps, --aim, --volts, --supply to check its prediction later."""
    path = written.known_path()
    entry = changed(
        written.entry(Kind.DILUTION, litres),
        drawn_litres=drawn,
        supply=supply,
        volts=volts,
        amps_before=amps,
        amps_aimed=aim,
    )
    pour(path, entry)
    warn(OF_A_DILUTION)


@command.command("note", epilog=examples("bathvigil bath note 'north tank' 'skimmed, filtered'"))
@bath_argument
@click.argument("text")
@writes_an_entry
def note(written: Written, text: str) -> None:
    """Enter a remark."""
    add(written.known_path(), changed(written.entry(Kind.NOTE), text=text))


@command.command(
    "correct",
    epilog=examples(
        "bathvigil bath correct 'north tank' 3 --litres 1.2",
        "bathvigil bath correct 'north tank' 3 --withdraw",
    ),
)
@bath_argument
@click.argument("number", type=int)
@click.option("--litres", type=LITRES, metavar="L", help="The right amount.")
@click.option("--grams-per-litre", type=AMOUNT, metavar="G/L", help="The right strength.")
@click.option("--withdraw", is_flag=True, help="It never happened.")
@by_option
@store_option
def correct(
    bath: str,
    number: int,
    litres: float | None,
    grams_per_litre: float | None,
    withdraw: bool,
    by: str,
    store: Path | None,
) -> None:
    """Correct entry NUMBER with another entry; both stay visible."""
    path = store_path(store)
    must_be_known(path, bath)
    if withdraw == (litres is not None or grams_per_litre is not None):
        raise WrongUse("choose one: the right --litres or --grams-per-litre, or --withdraw")
    known = {entry.entry: entry for entry in BathBook(path).entries(bath)}
    old = known.get(number)
    if old is None:
        raise WrongUse(f"{bath} has no entry {number}; see `bathvigil bath show '{bath}'`")
    trouble = correction_trouble(old, litres, grams_per_litre)
    if trouble is not None:
        raise WrongUse(trouble)
    corrected = changed(
        old,
        kind=Kind.WITHDRAWAL if withdraw else old.kind,
        litres=old.litres if litres is None else litres,
        grams_per_litre=old.grams_per_litre if grams_per_litre is None else grams_per_litre,
        corrects=number,
        text="",
        by=by,
        entry=None,
    )
    pour(path, corrected)


command.add_command(leads)
command.add_command(advise)
command.add_command(titrate)
command.add_command(add_caustic)


def _as_json(view: BathView) -> str:
    prospect = view.prospect
    return json.dumps(
        {
            "bath": view.bath,
            "litres": view.state.litres,
            "grams_per_litre": view.state.grams_per_litre,
            "carbonate_grams_per_litre": view.state.carbonate_grams_per_litre,
            "titrated": view.state.titrated_utc_ns is not None,
            "jobs_since": view.jobs_since,
            "amp_hours_since": round(view.amp_hours_since, 4),
            "chromium_grams_since": round(view.chromium_grams_since, 4),
            "trend": None if prospect.trend is None else asdict(prospect.trend),
            "jobs_left": prospect.jobs_left,
            "jobs_left_low": prospect.low,
            "jobs_left_high": prospect.high,
            "efficiency": None if view.efficiency is None else asdict(view.efficiency),
            "exponent": asdict(view.exponent),
            "advice": None if view.advice is None else asdict(view.advice),
            "leads": {name: asdict(contacts) for name, contacts in view.contacts.items()},
            "series": [asdict(series) for series in view.series],
            "dilutions": [
                {
                    "entry": dilution.entry.entry,
                    "amps_promised": dilution.amps_promised,
                    "amps_found": None if dilution.after is None else dilution.after.amps,
                    "error": dilution.error,
                }
                for dilution in view.poured
            ],
            "entries": [asdict(entry) for entry in view.entries],
            "facts": dict(facts_of_bath(view)),
        },
        separators=(",", ":"),
    )
