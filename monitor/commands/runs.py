"""`bathvigil runs`: the list of recorded runs, as text or as JSON Lines."""

import json
from dataclasses import asdict
from pathlib import Path

import click

from monitor.base.errors import StoreDamaged, StoreError
from monitor.base.moments import clock, local_minute, utc_text, zone_text
from monitor.commands.options import examples, json_option, store_option
from monitor.commands.places import store_path
from monitor.export.alarm_figures import SECONDS, Watch, as_lines, figures_of
from monitor.model.run import RunRow
from monitor.store.reader import StoredRun, open_store


@click.command("runs", epilog=examples("bathvigil runs --json", "bathvigil runs --alarms"))
@store_option
@json_option
@click.option(
    "--alarms",
    "alarm_figures",
    is_flag=True,
    help="Count alarms by the measures of ANSI/ISA-18.2, to tune your limits.",
)
def command(store: Path | None, as_json: bool, alarm_figures: bool) -> None:
    """List the recorded runs, oldest first."""
    if alarm_figures:
        _tell_alarm_figures(store_path(store), as_json)
        return
    with open_store(store_path(store)) as opened:
        rows = opened.runs()
        if not rows and not as_json:
            click.echo("No runs yet. Start one with: bathvigil watch ADDRESS --limit-amps A")
            return
        if not as_json:
            zones = {zone_text(row.utc_offset_s) for row in rows}
            # Where summer time lies between the runs, each has the local time of its day.
            began = f"began ({'/'.join(sorted(zones))})" if len(zones) == 1 else "began (local)"
            click.echo(f"{'run':>5}  {began:<17}  {'lasted':>8}  {'supply':<12}  what happened")
        damaged = 0
        for row in rows:
            try:
                run = opened.run(row.run)
                line = _as_json(run) if as_json else _as_row(run)
            except StoreError as failure:
                # One damaged run hides no other.
                damaged += 1
                line = _as_damaged(row, str(failure), as_json)
            click.echo(line)
    if damaged:
        raise StoreDamaged(
            f"{damaged} of {len(rows)} runs are damaged; copy all that is sound: "
            f"`bathvigil salvage {opened.path} --to NEW.db`"
        )


def _tell_alarm_figures(store: Path, as_json: bool) -> None:
    watches = []
    with open_store(store) as opened:
        for row in opened.runs():
            try:
                run = opened.run(row.run)
                watches.append(Watch(run.summary().seconds, tuple(run.alarms())))
            except StoreError as failure:
                click.echo(f"left out: {failure}", err=True)
    figures = figures_of(watches)
    if not as_json:
        click.echo("\n".join(as_lines(figures)))
        return
    rates = {f"per_{per.replace(' ', '_')}": figures.rate(per) for per in SECONDS}
    click.echo(json.dumps({**rates, **asdict(figures)}, separators=(",", ":")))


def _as_json(run: StoredRun) -> str:
    row, summary = run.row, run.summary()
    return json.dumps(
        {
            "run": row.run,
            "supply": row.facts.supply,
            "bath": row.facts.bath,
            "began_utc": utc_text(row.began_utc_ns),
            "ended_utc": None if row.ended_utc_ns is None else utc_text(row.ended_utc_ns),
            "ended_why": row.ended_why,
            "seconds": round(summary.seconds, 3),
            "samples": summary.samples,
            "missing": summary.missing,
            "gaps": summary.gaps,
            "amp_hours": round(summary.amp_hours, 6),
            "coverage": round(summary.coverage, 6),
            "alarms": summary.alarms,
            "limit_amps": row.facts.limit_amps,
        },
        separators=(",", ":"),
    )


def _as_damaged(row: RunRow, why: str, as_json: bool) -> str:
    if as_json:
        known = {"run": row.run, "supply": row.facts.supply, "damaged": why}
        return json.dumps(known, separators=(",", ":"))
    began = local_minute(row.began_utc_ns, row.utc_offset_s)
    return f"{row.run:>5}  {began:<17}  {'?':>8}  {row.facts.supply:<12}  DAMAGED"


def _as_row(run: StoredRun) -> str:
    row, summary = run.row, run.summary()
    began = local_minute(row.began_utc_ns, row.utc_offset_s)
    alarms = f"{summary.alarms} alarm{'' if summary.alarms == 1 else 's'}"
    gaps = f", {summary.gaps} gap{'' if summary.gaps == 1 else 's'}" if summary.gaps else ""
    state = row.ended_why or "still running, or interrupted"
    what = f"{summary.amp_hours:.2f} Ah, {alarms}{gaps}; {state}"
    lasted = clock(summary.seconds)
    return f"{row.run:>5}  {began:<17}  {lasted:>8}  {row.facts.supply:<12}  {what}"
