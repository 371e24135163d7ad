"""`bathvigil job`: a run's job card and result, shown or corrected without a screen."""

from dataclasses import replace
from pathlib import Path

import click

from drivers.base.nearest import nearest_hint
from monitor.base.errors import WrongUse
from monitor.baths.bath_view import must_be_known
from monitor.baths.designation import micrometres_of
from monitor.baths.run_charge import need_of_run
from monitor.baths.shapes import area_of
from monitor.commands.options import examples, store_option
from monitor.commands.places import store_path
from monitor.model.card import JobCard, Way
from monitor.model.kept_settings import kept_fittings
from monitor.model.outcome import Gone, Outcome
from monitor.store.job_rows import JobBox
from monitor.store.reader import Store, open_store
from monitor.store.stored_run import StoredRun
from monitor.text.progress import progress_line

LONGEST = 40


@click.command(
    "job",
    epilog=examples(
        "bathvigil job 3",
        "bathvigil job 3 --part bell --area 'tube 22 x 600 mm' --chromium 'Cr mp'",
        "bathvigil job 3 --gone yes --film-holds --by Ada",
    ),
)
@click.argument("run", type=int)
@click.option("--bath", metavar="NAME", help="The bath or pot.")
@click.option("--step", metavar="NAME", help="The step of the job, such as strip.")
@click.option(
    "--way", type=click.Choice([way.value for way in Way]), help="Work in a tank, or with a swab."
)
@click.option("--part", help="What is stripped, in your words.")
@click.option(
    "--area", help="Area of the part: '150 cm2', or shapes such as '2 tubes 22 x 600 mm'."
)
@click.option("--chromium", help="Chromium, by thickness or class: '0.5 um', 'Cr mp', 'SC 3'.")
@click.option("--operator", metavar="NAME", help="Who does the job.")
@click.option("--reference", help="The customer's reference.")
@click.option(
    "--gone",
    type=click.Choice([gone.value for gone in Gone]),
    help="Whether the chromium is gone everywhere.",
)
@click.option(
    "--film-holds/--film-breaks",
    default=None,
    help="Result of the water-break test: the film stayed whole, or broke.",
)
@click.option("--by", default="", metavar="NAME", help="Who looked.")
@store_option
def command(
    run: int,
    bath: str | None,
    step: str | None,
    way: str | None,
    part: str | None,
    area: str | None,
    chromium: str | None,
    operator: str | None,
    reference: str | None,
    gone: str | None,
    film_holds: bool | None,
    by: str,
    store: Path | None,
) -> None:
    """Show the job of RUN. With options, fill in or correct its card, or enter its result.

    What you do not name stays as it is. If one value is refused, nothing is changed.
    """
    path = store_path(store)
    texts = {"part": part, "operator": operator, "reference": reference, "bath": bath}
    given: dict[str, str] = {
        name: _short(name, text) for name, text in texts.items() if text is not None
    }
    with open_store(path) as opened:
        stored = opened.run(run)
        if bath is not None and bath != stored.row.facts.bath:
            must_be_known(path, bath)
        if step is not None:
            given["step"] = _step(step, stored)
        before, seen = stored.card() or JobCard(), stored.outcome() or Outcome()
        card = replace(
            before,
            **given,
            way=before.way if way is None else Way(way),
            area_dm2=before.area_dm2 if area is None else area_of(area),
            reaction_s=before.reaction_s,
            micrometres=before.micrometres if chromium is None else micrometres_of(chromium),
        )
        outcome = Outcome(
            seen.gone if gone is None else Gone(gone),
            seen.film_holds if film_holds is None else film_holds,
            by,
        )
        # The outcome first: it alone can still be refused, and then nothing is kept.
        if gone is not None or film_holds is not None:
            JobBox(path).put_outcome(run, outcome)
        if card != before:
            JobBox(path).put_card(run, card)
        for line in _told(opened, opened.run(run)):
            click.echo(line)


def _short(name: str, text: str) -> str:
    plain = text.strip()
    if not plain.isprintable() or len(plain) > LONGEST:
        raise WrongUse(f"--{name}: write at most {LONGEST} printable characters")
    return plain


def _step(step: str, stored: StoredRun) -> str:
    known = [job_step.name for job_step in kept_fittings(stored.row.facts.settings).steps]
    if step not in known:
        raise WrongUse(f"there is no step {step!r}: {nearest_hint(step, known)}")
    return step


def _told(store: Store, run: StoredRun) -> list[str]:
    """Card, charge and result in a line each."""
    card, outcome, estimate = run.card() or JobCard(), run.outcome(), run.latest_estimate()
    lines = [f"run {run.row.run}: {card.line or 'no job card yet'}"]
    need = need_of_run(store, run, card)
    if need is not None and estimate is not None:
        lines.append(progress_line(need, estimate.charge, None))
    lines.append((outcome.line if outcome is not None else "") or "no result yet")
    return lines
