"""Somebody sets the machine's clock in mid-run: nothing is lost, doubled, reordered or misjudged.

The recorder is the real command in a process of its own; only what its wall clock says is moved,
as clock_settime(2) moves CLOCK_REALTIME and nothing else.
"""

import csv
import json
import os
import signal
import subprocess
import sys
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import pytest

from monitor.model.event import SettingChange
from monitor.model.sample import Gap, GapReason, Sample
from monitor.recorder.wall_clock import WALL_CLOCK
from monitor.store.reader import open_store
from tests.whole.processes import PATIENCE_S, in_process, simulator, wait_until

RUN = """
import sys, time
from pathlib import Path

told, wall_ns, wall_s = Path(sys.argv.pop(1)), time.time_ns, time.time

def moved_ns():
    return int(told.read_text())

time.time_ns = lambda: wall_ns() + moved_ns()
time.time = lambda: wall_s() + moved_ns() / 1e9

from monitor.commands.main import main
main()
"""
HOUR_NS = 3600 * 10**9
POLL_S = 0.1
HOLE_S = 2.0
"""Answers further apart than this do not follow each other: common practice, no source."""


class Recording:
    """A recorder whose wall clock the test sets."""

    def __init__(self, folder: Path, address: str) -> None:
        self.store, self.moved, self.address = folder / "runs.db", folder / "moved", address
        self.set_by(0)
        self.process = self.start()

    def start(self) -> "subprocess.Popen[bytes]":
        line = [sys.executable, "-c", RUN, str(self.moved), "record", self.address]
        line += ["--limit-amps", "40", "--poll-s", str(POLL_S), "--store", str(self.store)]
        # Where summer time begins and ends at 1:00 UTC: directive 2000/84/EC.
        environment = {**os.environ, "TZ": "Europe/Berlin"}
        quiet = subprocess.DEVNULL
        return subprocess.Popen(line, stdin=quiet, stdout=quiet, stderr=quiet, env=environment)

    def set_by(self, ns: int) -> None:
        """Set the clock so far from the true time; whole at once, as a reader sees it."""
        part = self.moved.with_name("moved.part")
        part.write_text(str(ns))
        part.replace(self.moved)

    def set_to(self, moment: datetime) -> None:
        self.set_by(round((moment - datetime.now(UTC)).total_seconds() * 1e9))

    def rows(self) -> list[Sample | Gap]:
        with open_store(self.store) as opened:
            return list(opened.run(1).rows())

    def more_rows(self, count: int = 8) -> None:
        before = len(self.rows())
        wait_until("more rows", lambda: len(self.rows()) > before + count or None)

    def stop(self) -> None:
        self.process.send_signal(signal.SIGTERM)
        assert self.process.wait(PATIENCE_S) == 0


def moment_of(told: str) -> datetime:
    moment: str = json.loads(told)
    return datetime.fromisoformat(moment)


def amp_hours(rows: list[Sample | Gap]) -> float:
    """By the trapezoid between answers that follow each other.

    A place at which nobody asked, since the machine was busy, is not one without an answer.
    """
    total = 0.0
    asked = [row for row in rows if row.reason != GapReason.NOT_ASKED]
    for one, other in pairwise(asked):
        if not (isinstance(one, Sample) and isinstance(other, Sample)):
            continue
        step_s = other.t_s - one.t_s
        if one.amps is not None and other.amps is not None and step_s <= HOLE_S:
            total += (one.amps + other.amps) / 2 * step_s / 3600
    return total


def moved_s(step: SettingChange) -> float:
    return (moment_of(step.after) - moment_of(step.before)).total_seconds()


def test_a_clock_set_again_and_again_costs_nothing(tmp_path: Path) -> None:
    with simulator("quiet-strip", "scpi-tcp", 1.0) as (address, _):
        recording = Recording(tmp_path, address)
        listed = ("runs", "--json", "--store", recording.store)
        wait_until("a run", lambda: in_process(*listed).stdout or None)
        recording.more_rows()
        for moved_ns in (-HOUR_NS, 3 * 365 * 24 * HOUR_NS):
            recording.set_by(moved_ns)
            recording.more_rows()
        moments = (
            datetime(1970, 1, 1, 0, 0, 1, tzinfo=UTC),
            datetime(2027, 3, 28, 0, 59, 59, 500_000, tzinfo=UTC),
            datetime(2026, 10, 25, 0, 59, 59, 500_000, tzinfo=UTC),
        )
        for moment in moments:
            recording.set_to(moment)
            recording.more_rows(15)
        # Killed, and set back to the true time before the next one takes the run up.
        recording.process.kill()
        recording.process.wait(PATIENCE_S)
        recording.set_by(0)
        recording.process = recording.start()
        recording.more_rows()
        recording.stop()
    rows = recording.rows()
    assert [row.seq for row in rows] == list(range(len(rows)))
    times = [row.t_ns for row in rows]
    assert times == sorted(set(times))
    with open_store(recording.store) as opened:
        assert len(opened.runs()) == 1, "one run, taken up again"
        run = opened.run(1)
        steps = [one for one in run.setting_changes() if one.name == WALL_CLOCK]
        assert [event.alarm for event in run.alarms()] == []
        estimate = run.latest_estimate()
    assert [round(moved_s(one)) for one in steps[:2]] == [-3600, 3 * 365 * 86400 + 3600]
    for step, moment in zip(steps[2:5], moments, strict=True):
        assert 0.0 <= (moment_of(step.after) - moment).total_seconds() < 5.0
    assert len(steps) == 6, "the last one is the true time again"
    # The control knows nothing of the wall clock: the trapezoid over the run's own times.
    assert estimate is not None
    control = amp_hours([row for row in rows if row.t_ns <= estimate.t_ns])
    # The store keeps millionths of an ampere-hour.
    assert estimate.charge.amp_hours == pytest.approx(control, abs=1e-6)
    assert control > 0.0
    to = tmp_path / "run.csv"
    assert in_process("export", "1", "--to", to, "--store", recording.store).returncode == 0
    with to.open(newline="", encoding="utf-8") as file:
        exported = [float(row["t_s"]) for row in csv.DictReader(file)]
    assert exported == sorted(exported)
    assert len(exported) == len(rows)
