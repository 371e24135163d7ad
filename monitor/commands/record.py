"""`bathvigil record`: the recorder without a screen."""

import os
import shutil
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import click

from drivers.base.clock import SystemClock
from monitor.base.program import COMPLAINT
from monitor.baths.cautions import OF_A_FIRST_START
from monitor.commands.options import Number, examples, json_option, store_option
from monitor.commands.places import store_path
from monitor.commands.planning import Asked, asks_what_to_record
from monitor.commands.process import Outlet, stop_on_signals, unread
from monitor.export.event_lines import EventLines, Line, as_text, plain_line
from monitor.forward.process import start_forwarder
from monitor.forward.watch import Forwarded
from monitor.model.run import LimitKind, RunRow
from monitor.model.sample import Gap, Sample
from monitor.recorder.heartbeat import HeartbeatPlan
from monitor.recorder.lock import store_lock
from monitor.recorder.notices.planning import notice_plan
from monitor.recorder.plan import SupplyPlan
from monitor.recorder.recorder import Recorder
from monitor.recorder.sound.players import player_for
from monitor.recorder.sound.sounder import Sounder
from monitor.recorder.surroundings import Outside
from monitor.settings import SoundSettings, load_bench
from monitor.setup.check.machine_checks import day_bytes, folder_that_is, room_text
from monitor.store.reader import open_store
from monitor.text.copying import what_to_copy
from monitor.text.start_checks import PRINTED
from monitor.watch.vigil import Verdict

FORECAST_EVERY_S = 10.0
LOGGED_EVERY_S = 600.0
"""The same in a log, which must not grow by megabytes in a month."""


@click.command(
    "record",
    epilog=examples(
        "bathvigil record scpi:tcp://127.0.0.1:5025 --limit-amps 10 --for-s 30 --json",
        "bathvigil record --config bench.toml",
    ),
)
@asks_what_to_record
@store_option
@click.option(
    "--for-s",
    type=Number(min=0, min_open=True),
    metavar="S",
    help="End after S seconds.  [default: record until stopped]",
)
@json_option
def command(asked: Asked, store: Path | None, for_s: float | None, as_json: bool) -> None:
    """Record the supply at ADDRESS, or those of bench.toml, until you stop it."""
    plans = asked.plans()
    path = store_path(store, asked.config)
    # Told once a supply answers: what was typed wrongly gets one line and no more.
    first_words = [] if path.exists() else [f"CAUTION: {' '.join(OF_A_FIRST_START)}"]
    teller = _Teller(as_json, [*first_words, PRINTED, *_room(path, plans)])
    sound, outside = _surroundings(asked.config)
    try:
        with store_lock(path):
            start_forwarder(asked.config, path)
            _forget_token(asked.config)
            sounder = _sounder(sound, path, teller.say)
            recorder = Recorder(
                path,
                plans,
                teller.take,
                teller.say,
                asked.new_run,
                asked.keep_trying,
                sounder,
                outside,
            )
            sounder.tell_also(recorder.note_sound)
            stop_on_signals(recorder.stop)
            sounder.start()
            try:
                recorder.run(for_s)
            finally:
                sounder.close()
        teller.sum_up()
        with open_store(path) as opened:
            teller.say(what_to_copy(path, opened.stands_alone))
    finally:
        teller.close()


def _room(path: Path, plans: Sequence[SupplyPlan]) -> list[str]:
    """The room on the disk, and what a day of recording takes."""
    folder = folder_that_is(path)
    try:
        free = shutil.disk_usage(folder).free
    except OSError:
        # A disk that does not tell its room can be written all the same.
        return []
    return [room_text(folder, free, day_bytes(plan.facts.poll_s for plan in plans))]


def _surroundings(config: Path | None) -> tuple[SoundSettings, Outside]:
    """Sound and the other channels of alarms; without settings, what the machine has."""
    if config is None:
        return SoundSettings(), Outside()
    bench = load_bench(config)
    beat = bench.heartbeat
    heartbeat = HeartbeatPlan(beat.beat_file, beat.beat_url, beat.every_s)
    forward = bench.forward
    forwarded = None if forward.url is None else Forwarded(config, forward.place)
    return bench.sound, Outside(notice_plan(bench.notices), heartbeat, forwarded)


def _forget_token(config: Path | None) -> None:
    """The forwarder has it; the programs for sound and notices are started without it."""
    variable = None if config is None else load_bench(config).forward.token_env
    if variable is not None:
        os.environ.pop(variable, None)


def _sounder(sound: SoundSettings, store: Path, say: Callable[[str], None]) -> Sounder:
    """What makes the alarms heard; a failure of the sound is reported."""
    return Sounder(
        player_for(sound.command, store),
        SystemClock(),
        lambda state: say(f"SOUND {'works' if state.works else 'FAILED'}: {state.text}"),
        sound.play_within_s,
        sound.again_every_s,
    )


class _Teller:
    """Prints events as they come: data to stdout, talk to stderr; a reader may stop reading."""

    def __init__(self, as_json: bool, first_words: Sequence[str]) -> None:
        self._as_json = as_json
        self._first_words = list(first_words)
        self._event_lines: dict[int, EventLines] = {}
        self._data = Outlet("stdout", sys.stdout, self._left_out)
        self._talk = Outlet("stderr", sys.stderr, lambda count: f"{COMPLAINT}{unread(count)}")

    def take(self, run: RunRow, row: Sample | Gap, verdict: Verdict) -> None:
        """Print what one row brought; called in one thread."""
        lines = self._event_lines.get(run.run)
        if lines is None:
            is_log = not (self._as_json or sys.stdout.isatty())
            every_s = LOGGED_EVERY_S if is_log else FORECAST_EVERY_S
            lines = self._event_lines[run.run] = EventLines(every_s)
            for words in (*self._first_words, _begun(run)):
                self.say(words)
            self._first_words.clear()
        for line in lines.lines(row, verdict):
            self._print(line)

    def say(self, sentence: str) -> None:
        """Print a sentence for people; from any thread, and never waits."""
        self._talk.put(f"{COMPLAINT}{sentence}")

    def sum_up(self) -> None:
        """Print the figures of each run."""
        for lines in self._event_lines.values():
            self._print(lines.summary())

    def close(self) -> None:
        """Print what is left, as long as somebody reads."""
        left = self._data.close()
        if left:
            self.say(unread(left))
        self._talk.close()

    def _print(self, line: Line) -> None:
        self._data.put(as_text(line) if self._as_json else plain_line(line))

    def _left_out(self, count: int) -> str:
        line: Line = {"kind": "left-out", "lines": count}
        return as_text(line) if self._as_json else unread(count)


def _begun(run: RunRow) -> str:
    """The limits in force, so that a wrong one is seen before the strip begins."""
    facts = run.facts
    does = "cuts out" if facts.limit_kind is LimitKind.TRIPS else "holds the current"
    return (
        f"run {run.run}: {facts.supply} {does} at {facts.limit_amps:g} A; "
        f"it warns when that is expected within {facts.horizon_s:g} s"
    )
