"""The story of a run as lines, while it is recorded: the screen's words without a screen."""

import subprocess
from pathlib import Path

import click

from drivers.base.clock import SystemClock
from monitor.base.errors import BathvigilError
from monitor.base.moments import clock
from monitor.model.alarm import Change
from monitor.model.sample import Gap, Sample
from monitor.recorder.launching import log_path
from monitor.store.reader import StoredRun, open_store
from monitor.store.run_clock import run_clock
from monitor.text.alarms import action_of
from monitor.text.situation import silent_since_s, situation_at
from monitor.text.standing import Situation, StateWord, standing

LOOK_EVERY_S = 0.2
SAY_EVERY_S = 120.0
"""Run seconds after which an unchanged state is said again."""


def situation_now(run: StoredRun) -> Situation:
    """What the words need to know of a run that may still be going on."""
    row, last = run.row, run.last()
    segment = run.segments()[-1]
    clock = run_clock(row, segment)
    now_s = (clock.monotonic_ns() - segment.began_monotonic_ns + segment.began_t_ns) / 1e9
    since_s = silent_since_s(None, run.gaps()) if isinstance(last, Gap) else None
    return situation_at(
        now_s, row, segment, last, since_s, run.latest_estimate(), run.standing_alarms()
    )


class Storyteller:
    """Gives the lines that are new since it last looked."""

    def __init__(self) -> None:
        self._word: StateWord | None = None
        self._said_at_s = 0.0
        self._events = 0

    def lines(self, run: StoredRun) -> list[str]:
        """State sentence when its word changes and now and then; each change of an alarm."""
        lines = []
        events = run.alarms()
        for event in events[self._events :]:
            lines.append(
                f"{clock(event.t_s):>6}  ALARM {event.alarm} {event.change.value}: {event.message}"
            )
            if event.change is Change.RAISED:
                lines.append(f"        do: {action_of(event)}")
        self._events = len(events)
        situation = situation_now(run)
        stands = standing(situation)
        t_s = situation.last.t_s if situation.last is not None else 0.0
        if stands.word != self._word or t_s - self._said_at_s >= SAY_EVERY_S:
            self._word, self._said_at_s = stands.word, t_s
            amps = ""
            if (
                isinstance(situation.last, Sample)
                and situation.last.amps is not None
                and stands.fresh
            ):
                amps = f"  [{situation.last.amps:.1f} A of {situation.facts.limit_amps:g} A]"
            lines.append(f"{clock(t_s):>6}  {stands.line}{amps}")
        return lines


def tell_story(store: Path, run: int, recorder: "subprocess.Popen[bytes]") -> int:
    """Print a run's story until it ends or its recorder is gone; the exit code."""
    clock, teller = SystemClock(), Storyteller()
    with open_store(store) as opened:
        stored = opened.run(run)
        while True:
            is_gone = recorder.poll() is not None
            has_ended = stored.row.ended_utc_ns is not None
            for line in teller.lines(stored):
                click.echo(line)
            if has_ended:
                return 0
            if is_gone:
                raise BathvigilError(f"the recorder is gone; see {log_path(store)}")
            clock.wait(LOOK_EVERY_S)
