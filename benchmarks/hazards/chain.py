"""Runs the program's own chain over the readings of a scene; gives the lines that it prints.

This is the only file that knows how the program is built. `fast` runs the estimators and alarms
that the recorder runs, in this process; `by_replay` runs `bathvigil replay --json` over a table.
"""

import json
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping
from inspect import signature
from pathlib import Path
from typing import Any

from benchmarks.hazards.played import Played, Settings
from monitor.export.event_lines import EventLines, Line
from monitor.model.alarm import AlarmEvent, State
from monitor.model.card import JobCard, Way
from monitor.model.fittings import Conductor, Fittings, Job
from monitor.model.leads import Leads
from monitor.model.run import LimitKind, RunFacts
from monitor.model.sample import Gap, Sample
from monitor.model.step import STRIP, JobStep
from monitor.text.alarms import what_to_do
from monitor.text.standing import Situation, standing
from monitor.watch.vigil import Vigil

BEGAN_UTC_NS = 1_700_000_000 * 10**9
STATE_EVERY_S = 1.0
LEAD_S = 120.0
"""Time constant of a lead's heat."""


def fast(played: Played) -> Iterator[Line]:
    """Every line of one scene, and a line for each change of the state's word."""
    facts = _facts(played)
    vigil = Vigil(facts, fittings=_fittings(played.settings), **_known(Vigil, played.settings))
    card = _card(played.settings)
    if not card.is_blank:
        vigil.take_card(card)
    telling = EventLines(None)
    hands = list(played.hands)
    alarms: dict[str, AlarmEvent] = {}
    word, next_word_s, answered_s = "", 0.0, 0.0
    for row in rows(played):
        while hands and hands[0].t_s <= row.t_s:
            vigil.next_step(hands.pop(0).prompt)
        try:
            verdict = vigil.update(row)
        except Exception as error:  # what the recorder makes of a bug
            vigil.fail(f"{type(error).__name__}: {error}")
            verdict = vigil.update(row)
        for line in telling.lines(row, verdict):
            yield with_action(line)
        for event in verdict.events:
            alarms[event.alarm] = event
        if isinstance(row, Sample):
            answered_s = row.t_s
        if row.t_s >= next_word_s or verdict.events:
            next_word_s = row.t_s + STATE_EVERY_S
            standing_now = tuple(e for e in alarms.values() if e.state is not State.NORMAL)
            situation = Situation(
                facts, row, 0.0, row.t_s - answered_s, verdict.estimate, standing_now
            )
            now = standing(situation)
            if now.word != word:
                word = now.word
                yield {
                    "kind": "state",
                    "t_s": row.t_s,
                    "state": word,
                    "message": now.sentence,
                    "action": now.to_do,
                }
    yield telling.summary()


def by_replay(played: Played, folder: Path) -> list[Line]:
    """The lines that `bathvigil replay FILE --json` prints of one scene."""
    table = folder / "scene.csv"
    write_table(played, table)
    settings = played.settings
    program = str(Path(sys.executable).with_name("bathvigil"))
    command = [program, "replay", str(table), "--json"]
    command += ["--limit-amps", f"{settings.limit_amps}", "--at-limit", settings.at_limit]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=300)
    return [with_action(json.loads(line)) for line in done.stdout.splitlines()]


def write_table(played: Played, table: Path) -> None:
    """A scene's readings as a table of t_s, volts, amps."""
    with table.open("w", encoding="utf-8") as file:
        file.write("t_s,volts,amps\n")
        for reading in played.readings:
            cells = ("" if value is None else f"{value}" for value in (reading.volts, reading.amps))
            file.write(f"{reading.t_s},{','.join(cells)}\n")


def rows(played: Played) -> Iterator[Sample | Gap]:
    """A scene's readings as the recorder's rows."""
    for seq, reading in enumerate(played.readings):
        t_ns = round(reading.t_s * 1e9)
        utc_ns = BEGAN_UTC_NS + t_ns
        if reading.volts is None or reading.amps is None:
            yield Gap(seq, t_ns, utc_ns, "no answer")
        else:
            yield Sample(seq, t_ns, utc_ns, 5000, reading.volts, reading.amps)


def with_action(line: Mapping[str, str | float | int | bool | None]) -> Line:
    """A line with what the operator is to do: its own words, else the catalogue's."""
    if line.get("kind") != "alarm" or line.get("action"):
        return line
    return {**line, "action": what_to_do(str(line["alarm"]))}


def _facts(played: Played) -> RunFacts:
    settings = played.settings
    return RunFacts(
        "bench-2",
        "",
        settings.limit_amps,
        LimitKind(settings.at_limit),
        poll_s=played.draw.poll_s,
        **_known(RunFacts, settings),
    )


def _known(made: Callable[..., object], settings: Settings) -> dict[str, Any]:
    """Those of the newer settings that the program takes already, by the parameter's name.

    `usual_amps` is the (low, middle, high) of like jobs; wherever it lands, `RunFacts` or `Vigil`,
    it is passed on.
    """
    takes = signature(made).parameters
    newer = {"usual_amps": settings.usual_amps}
    return {name: value for name, value in newer.items() if name in takes}


def _card(settings: Settings) -> JobCard:
    way = Way(settings.way) if settings.way else None
    return JobCard(step=STRIP if way else "", way=way, area_dm2=settings.area_dm2)


def _fittings(settings: Settings) -> Fittings:
    step = JobStep(STRIP, (6.0, 12.0), settings.density, settings.minutes)
    leads = None if settings.gauge is None else Leads(*settings.gauge)
    rated = settings.rated_amps
    return Fittings(
        conductors=() if rated is None else (Conductor("lead", rated, LEAD_S),),
        steps=(JobStep("clean"), step),
        leads=leads,
        job=Job(area_dm2=settings.area_dm2),
        step=step,
        cells=settings.cells,
    )
