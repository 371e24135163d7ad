"""All that is known of a run beside its rows, as a JSON file to go with an export."""

import json
from dataclasses import asdict
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from pathlib import Path

from monitor.base.moments import utc_text
from monitor.base.whole_file import whole_file
from monitor.model.entry import BathState, state_of
from monitor.model.kept_settings import kept_table
from monitor.store.stored_run import StoredRun

Fact = object  # what JSON can say


def facts_path(to: Path) -> Path:
    """The file of facts beside an export.

    >>> facts_path(Path("strip-1.csv")).name
    'strip-1.csv.facts.json'
    """
    return to.with_name(f"{to.name}.facts.json")


def export_facts(run: StoredRun, to: Path, *, zone: tzinfo | None = None) -> None:
    """Write the run's facts, job card and outcome, limits in force, figures, gaps, alarms, prompts,
    marks, changes of the settings or the machine's clock, and stretches.

    Raises
    ------
    NotWritten
        The file cannot be written; an older one at its place is untouched.
    """
    with whole_file(to) as file:
        json.dump(facts_of(run, zone), file, indent=1, ensure_ascii=False)
        file.write("\n")


def facts_of(run: StoredRun, zone: tzinfo | None = None) -> dict[str, Fact]:
    """The same as a dictionary."""
    row, summary = run.row, run.summary()
    card, outcome = run.card(), run.outcome()
    facts = row.facts
    return {
        "run": row.run,
        "supply": facts.supply,
        "address": facts.address,
        "identity": facts.identity,
        "bath": facts.bath,
        "bath_litres": facts.bath_litres,
        "bath_by_ledger": _ledger(run),
        "limit_amps": facts.limit_amps,
        "at_limit": facts.limit_kind.value,
        "poll_s": facts.poll_s,
        "horizon_s": facts.horizon_s,
        "clock_speed": facts.clock_speed,
        "program": row.program,
        "began_utc": utc_text(row.began_utc_ns),
        "ended_utc": None if row.ended_utc_ns is None else utc_text(row.ended_utc_ns),
        "ended_why": row.ended_why,
        "zone_of_local": _zone_text(row.began_utc_ns, zone),
        "zone_where_it_ran": str(timezone(timedelta(seconds=row.utc_offset_s))),
        "seconds": summary.seconds,
        "samples": summary.samples,
        "missing": summary.missing,
        "amp_hours": summary.amp_hours,
        "coverage": summary.coverage,
        "card": None if card is None else asdict(card),
        "outcome": None if outcome is None else asdict(outcome),
        "gaps": [
            {
                "began_s": gap.began_t_ns / 1e9,
                "ended_s": None if gap.ended_t_ns is None else gap.ended_t_ns / 1e9,
                "polls": gap.polls,
                "reason": gap.reason,
                "detail": gap.detail,
            }
            for gap in run.gaps()
        ],
        "alarms": [
            {
                "t_s": event.t_s,
                "alarm": event.alarm,
                "occurrence": event.occurrence,
                "change": event.change.value,
                "state": event.state.value,
                "priority": event.priority.value,
                "message": event.message,
                "by": event.by,
            }
            for event in run.alarms()
        ],
        "prompts": [
            {"t_s": prompt.t_s, "prompt": prompt.prompt, "message": prompt.message}
            for prompt in run.prompts()
        ],
        "marks": [
            {
                "number": mark.number,
                "t_s": mark.t_ns / 1e9,
                "utc": utc_text(mark.utc_ns),
                "text": mark.text,
            }
            for mark in run.marks()
        ],
        "changes": [
            {
                "t_s": change.t_ns / 1e9,
                "utc": utc_text(change.utc_ns),
                "name": change.name,
                "before": json.loads(change.before),
                "after": json.loads(change.after),
            }
            for change in run.setting_changes()
        ],
        "in_force": kept_table(facts.settings, "in_force") or None,
        "stretches": [
            {
                "began_s": segment.began_t_ns / 1e9,
                "began_utc": utc_text(segment.began_utc_ns),
                "cause": segment.cause,
            }
            for segment in run.segments()
        ],
    }


def _ledger(run: StoredRun) -> dict[str, Fact] | None:
    """The bath's solution when the run began, by its ledger; None where that has nothing."""
    state = state_of(run.ledger_then())
    if state == BathState():
        return None
    titrated, made_up = state.titrated_utc_ns, state.made_up_utc_ns
    return {
        "litres": state.litres,
        "solution": state.solution,
        "grams_per_litre": state.grams_per_litre,
        "carbonate_grams_per_litre": state.carbonate_grams_per_litre,
        "made_up_utc": None if made_up is None else utc_text(made_up),
        "titrated_utc": None if titrated is None else utc_text(titrated),
    }


def _zone_text(utc_ns: int, zone: tzinfo | None) -> str:
    moment = datetime.fromtimestamp(utc_ns // 1_000_000_000, UTC).astimezone(zone)
    return f"{zone or moment.tzname()} (UTC{moment:%z} when the run began)"
