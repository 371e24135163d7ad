"""What kills do: a screen's death changes nothing, a recorder's leaves every committed sample."""

import os
import pty
import random
import re
import select
import signal
import sqlite3
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest

from drivers.errors import Reason
from monitor.export.facts_export import facts_of
from monitor.model.sample import Gap, GapReason
from monitor.recorder.launching import log_path
from monitor.recorder.lock import holder
from monitor.store.reader import open_store
from tests.whole.processes import (
    PATIENCE_S,
    bathvigil,
    in_process,
    lines_of,
    simulator,
    start,
    wait_until,
)

LATE = {GapReason.NOT_ASKED, GapReason.HOST_PAUSED, Reason.NO_ANSWER}
"""What the row of a poll says for which a busy machine was too late."""
LIMIT = ("--limit-amps", "40", "--poll-s", "0.1")


def rows_in(store: Path, table: str = "samples") -> int:
    if not store.exists():
        return 0
    try:
        with sqlite3.connect(f"{store.as_uri()}?mode=ro", uri=True) as connection:
            return int(connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0])
    except sqlite3.OperationalError:
        return 0


def begin_to_watch(address: str, store: Path) -> tuple[int, int]:
    """Start `watch` in a terminal of its own; process, terminal."""
    child, terminal = pty.fork()
    if child == 0:  # pragma: no cover - the child becomes the command
        os.environ["TERM"] = "xterm-256color"
        line = ["watch", address, *LIMIT, "--store", str(store)]
        os.execv(sys.executable, [sys.executable, "-m", "bathvigil", *line])
    return child, terminal


def watch_in_a_terminal(address: str, store: Path) -> tuple[int, int]:
    """Start `watch` in a terminal of its own, and wait until it has drawn; process, terminal."""
    child, terminal = begin_to_watch(address, store)
    drawn = b""
    while b"\x1b[" not in drawn:
        drawn += os.read(terminal, 65536)
    return child, terminal


def more_rows(store: Path, than: int) -> None:
    wait_until(f"more than {than} rows", lambda: rows_in(store) > than or None)


def assert_no_hole(store: Path) -> None:
    """Every poll of run 1 was answered, but for those few that a busy machine was too late for."""
    with open_store(store) as opened:
        rows = list(opened.run(1).rows())
    gaps = [row for row in rows if isinstance(row, Gap)]
    assert {gap.reason for gap in gaps} <= LATE, gaps
    assert len(gaps) <= len(rows) / 4, gaps


@pytest.mark.parametrize("killed_by", [signal.SIGKILL, signal.SIGHUP, signal.SIGTERM])
def test_the_death_of_the_screen_leaves_no_hole(killed_by: signal.Signals, tmp_path: Path) -> None:
    store = tmp_path / "runs.db"
    with simulator("quiet-strip", "scpi-serial", 1.0) as (address, _):
        child, terminal = watch_in_a_terminal(address, store)
        try:
            more_rows(store, 10)
            screen = wait_until("the screen's process", lambda: _child_of(child))
            os.kill(screen, killed_by)
            _drain(terminal)
            _, status = os.waitpid(child, 0)
            assert os.WIFEXITED(status)
            before = rows_in(store)
            more_rows(store, before + 10)
        finally:
            os.close(terminal)
            pid = holder(store)
            if pid:
                os.kill(pid, signal.SIGTERM)
                wait_until("the end of the recorder", lambda: holder(store) is None or None)
    (run,) = lines_of(in_process("runs", "--json", "--store", store).stdout)
    assert_no_hole(store)
    assert run["ended_why"] == "stopped"


def test_closing_the_terminal_leaves_the_recorder_and_watch_comes_back(tmp_path: Path) -> None:
    store = tmp_path / "runs.db"
    with simulator("quiet-strip", "scpi-tcp", 1.0) as (address, _):
        recorder_before: int | None = None
        for _ in range(2):
            child, terminal = watch_in_a_terminal(address, store)
            os.close(terminal)  # the window is closed
            os.waitpid(child, 0)
            recorder = holder(store)
            assert recorder is not None
            assert recorder_before in (None, recorder), "the second watch attached to the first"
            recorder_before = recorder
            more_rows(store, rows_in(store) + 5)
        assert recorder_before is not None
        os.kill(recorder_before, signal.SIGTERM)
        wait_until("the end of the recorder", lambda: holder(store) is None or None)
    runs = lines_of(in_process("runs", "--json", "--store", store).stdout)
    assert len(runs) == 1
    assert_no_hole(store)
    # Its data are in the store; the log beside it has its talk alone, and stays small.
    talk = log_path(store).read_text()
    assert "bathvigil: run 1: " in talk
    assert "no trip expected" not in talk


def screens_of(store: Path) -> list[int]:
    """Every process that has to do with a store, but for its recorder."""
    pids = []
    for folder in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            words = (folder / "cmdline").read_bytes().split(b"\0")
            if bytes(store) in words and b"record" not in words:
                pids.append(int(folder.name))
    return pids


def read_for(terminal: int, seconds: float) -> None:
    """Read what is drawn, for so long."""
    until_s = time.monotonic() + seconds
    while (left_s := until_s - time.monotonic()) > 0:
        if select.select([terminal], [], [], left_s)[0]:
            try:
                os.read(terminal, 65536)
            except OSError:
                return


@pytest.mark.skipif(sys.platform != "linux", reason="/proc tells which processes there are")
@pytest.mark.parametrize("moments", [6, pytest.param(60, marks=pytest.mark.trial)])
def test_a_terminal_closed_while_its_screen_begins_leaves_no_screen(
    moments: int, tmp_path: Path
) -> None:
    store, chance = tmp_path / "runs.db", random.Random(14)
    with simulator("quiet-strip", "scpi-tcp", 1.0) as (address, _):
        recorder = start("record", address, *LIMIT, "--store", store)
        more_rows(store, 0)
        for moment in range(moments):
            child, terminal = begin_to_watch(address, store)
            # Half of them are closed as early as it happens, half once there is a screen.
            if moment % 2:
                wait_until("the screen's process", lambda: len(screens_of(store)) > 1)
            read_for(terminal, chance.uniform(0.0, 1.0))
            os.close(terminal)
            os.waitpid(child, 0)
            wait_until("the end of every screen", lambda: not screens_of(store))
        recorder.terminate()
        recorder.communicate(timeout=PATIENCE_S)
    assert recorder.returncode == 0


def test_a_killed_recorder_loses_no_committed_sample_and_the_run_goes_on(tmp_path: Path) -> None:
    store = tmp_path / "runs.db"
    with simulator("quiet-strip", "scpi-tcp", 1.0) as (address, _):
        first = start("record", address, *LIMIT, "--store", store)
        more_rows(store, 20)
        os.kill(first.pid, signal.SIGKILL)
        first.communicate()
        committed = rows_in(store)
        time.sleep(0.5)
        second = start("record", address, *LIMIT, "--store", store, "--for-s", "30")
        more_rows(store, committed + 10)
        second.send_signal(signal.SIGTERM)
        _, talk = second.communicate(timeout=20)
        assert second.returncode == 0, talk
    # What somebody takes away is the one file, without what may lie beside it.
    copy = tmp_path / "away" / "copy.db"
    copy.parent.mkdir()
    copy.write_bytes(store.read_bytes())
    with open_store(store) as opened:
        gaps = [gap.reason for gap in opened.run(1).gaps()]
    assert len([reason for reason in gaps if reason not in LATE]) == 1, gaps
    told = in_process("review", "1", "--store", store).stdout
    assert "recorder" in told
    to = tmp_path / "run.csv"
    assert in_process("export", "1", "--to", to, "--store", store).returncode == 0
    rows = to.read_text().splitlines()[1:]
    times = [float(row.split(",")[0]) for row in rows]
    assert times == sorted(set(times))
    assert len(rows) >= committed + 10
    with open_store(copy) as opened:
        assert len(list(opened.run(1).rows())) == len(rows)


def test_a_second_recorder_on_the_same_store_is_told_who_holds_it(tmp_path: Path) -> None:
    store = tmp_path / "runs.db"
    with simulator("quiet-strip", "scpi-tcp", 1.0) as (address, _):
        first = start("record", address, *LIMIT, "--store", store)
        more_rows(store, 2)
        done = bathvigil("record", address, *LIMIT, "--store", store)
        first.send_signal(signal.SIGTERM)
        first.communicate(timeout=20)
    assert done.returncode == 1
    assert str(first.pid) in done.stderr
    assert "Traceback" not in done.stderr


def test_a_second_recorder_of_one_supply_is_told_who_asks_it_and_a_kill_frees_it(
    tmp_path: Path,
) -> None:
    store, other = tmp_path / "runs.db", tmp_path / "other.db"
    with simulator("quiet-strip", "scpi-tcp", 1.0) as (address, _):
        first = start("record", address, *LIMIT, "--store", store)
        more_rows(store, 2)
        done = bathvigil("record", address, *LIMIT, "--store", other, "--keep-trying")
        assert done.returncode == 1
        assert f"process {first.pid}" in done.stderr
        assert str(store) in done.stderr
        assert rows_in(other) == 0
        os.kill(first.pid, signal.SIGKILL)
        first.communicate()
        done = bathvigil("record", address, *LIMIT, "--store", other, "--for-s", "1")
    assert done.returncode == 0, done.stderr


def _child_of(parent: int) -> int | None:
    """The screen's process: the one child of `watch` that runs the module tui."""
    try:
        children = Path(f"/proc/{parent}/task/{parent}/children").read_text().split()
        for child in children:
            if b"\0-m\0tui\0" in Path(f"/proc/{child}/cmdline").read_bytes():
                return int(child)
    except OSError:
        # Gone between two looks.
        return None
    return None


def _drain(terminal: int) -> None:
    """Read what a screen still draws, until its terminal is given back or quiet."""
    while True:
        try:
            if not os.read(terminal, 65536):
                return
        except OSError:
            return


def test_what_was_not_acknowledged_sounds_on_when_a_killed_recorder_is_started_again(
    tmp_path: Path,
) -> None:
    store, sounded, horn = tmp_path / "runs.db", tmp_path / "sounded", tmp_path / "horn"
    horn.write_text(f'#!/bin/sh\necho "$1" >> {sounded}\n')
    horn.chmod(0o755)
    config = tmp_path / "bench.toml"
    with simulator("quiet-strip", "scpi-tcp", 1.0) as (address, supply):
        config.write_text(
            f'[supplies.bench-1]\naddress = "{address}"\nlimit_amps = 40.0\n'
            f'[no_data]\nafter_s = 1\n[sound]\ncommand = "{horn}"\nagain_every_s = 2\n'
            f'[store]\nfile = "runs.db"\n'
        )
        first = start("record", "--config", config)
        more_rows(store, 5)
        os.kill(supply.pid, signal.SIGSTOP)
        wait_until("the alarm's sound", lambda: "critical" in _text(sounded) or None)
        # The sound comes first, the disk a moment later: only what is on it can outlive a kill.
        wait_until("the alarm in the store", lambda: rows_in(store, "alarms") > 0 or None)
        os.kill(first.pid, signal.SIGKILL)
        first.communicate()
        os.kill(supply.pid, signal.SIGCONT)
        sounded.write_text("")
        second = start("record", "--config", config, "--for-s", "30", "--keep-trying")
        # The supply answers again, but nobody has acknowledged that it was mute.
        wait_until("the sound again", lambda: "critical" in _text(sounded) or None)
        second.send_signal(signal.SIGTERM)
        second.communicate(timeout=20)


def _text(file: Path) -> str:
    return file.read_text() if file.exists() else ""


def test_a_setting_changed_while_the_recorder_was_down_is_kept_with_both_values(
    tmp_path: Path,
) -> None:
    store, config = tmp_path / "runs.db", tmp_path / "bench.toml"
    with simulator("quiet-strip", "scpi-tcp", 1.0) as (address, _):
        text = (
            f'[supplies.bench-1]\naddress = "{address}"\nlimit_amps = 40.0\n'
            f'[no_data]\nafter_s = 5\n[store]\nfile = "runs.db"\n'
        )
        config.write_text(text)
        first = start("record", "--config", config)
        more_rows(store, 5)
        os.kill(first.pid, signal.SIGKILL)
        first.communicate()
        before = rows_in(store)
        config.write_text(text.replace("after_s = 5", "after_s = 8"))
        second = start("record", "--config", config)
        more_rows(store, before + 2)
        second.send_signal(signal.SIGTERM)
        _, talk = second.communicate(timeout=20)
    assert "no_data_after_s is now 8.0" in talk
    assert f"{store} holds everything: copy this one file" in talk
    assert re.search(r"\d+ [MG]B free in \S+; a day needs about 65 MB", talk)
    with open_store(store) as opened:
        (change,) = opened.run(1).setting_changes()
        facts = facts_of(opened.run(1))
    assert (change.name, change.before, change.after) == ("no_data_after_s", "5.0", "8.0")
    assert change.t_ns > 0
    changed = facts["changes"]
    assert isinstance(changed, list)
    (told,) = changed
    assert (told["name"], told["before"], told["after"]) == ("no_data_after_s", 5.0, 8.0)
    in_force = facts["in_force"]
    assert isinstance(in_force, dict)
    assert in_force["no_data_after_s"] == 5.0, "what it began with"


def test_a_recorder_that_stood_still_says_so_and_goes_on(tmp_path: Path) -> None:
    store = tmp_path / "runs.db"
    with simulator("quiet-strip", "scpi-tcp", 1.0) as (address, _):
        recorder = start("record", address, *LIMIT, "--store", store)
        more_rows(store, 10)
        os.kill(recorder.pid, signal.SIGSTOP)
        time.sleep(6.0)  # longer than what raises no-data
        os.kill(recorder.pid, signal.SIGCONT)
        more_rows(store, rows_in(store) + 70)
        recorder.send_signal(signal.SIGTERM)
        recorder.communicate(timeout=20)
    with open_store(store) as opened:
        run = opened.run(1)
        (gap,) = [gap for gap in run.gaps() if gap.polls >= 55]
        told = [(event.alarm, event.change.value) for event in run.alarms()]
    assert gap.reason == "host paused"
    assert ("host-paused", "raised") in told
    assert ("no-data", "raised") not in told, "one cause, one alarm"
