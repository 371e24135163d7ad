"""Three supplies in one recorder: what is wrong with one leaves the others untouched."""

import csv
import os
import re
import signal
import threading
from contextlib import ExitStack
from pathlib import Path

from monitor.base.errors import StoreError
from monitor.model.request import RequestKind
from monitor.model.run import RunFacts, RunRow
from monitor.model.sample import Gap, Sample
from monitor.recorder.plan import SupplyPlan
from monitor.recorder.recorder import Recorder
from monitor.store.reader import open_store
from monitor.store.requests import RequestBox
from monitor.watch.vigil import Verdict
from simulators.playing import playing
from tests.whole.processes import in_process, lines_of, simulator, start, wait_until

SETTINGS = """
[supplies.good]
address = "{0}"
limit_amps = 40.0

[supplies.frozen]
address = "{1}"
limit_amps = 40.0

[supplies.gone]
address = "{2}"
limit_amps = 40.0

[no_data]
after_s = 2

[store]
file = "runs.db"
"""


def alarms_in(store: Path, run: int) -> list[str]:
    with open_store(store) as opened:
        return [event.alarm for event in opened.run(run).alarms()]


def test_a_frozen_and_a_dead_supply_cost_the_third_one_nothing(tmp_path: Path) -> None:
    store = tmp_path / "runs.db"
    with ExitStack() as held:
        links = ("scpi-tcp", "scpi-tcp", "scpi-serial")
        ends = [held.enter_context(simulator("quiet-strip", link, 1.0)) for link in links]
        config = tmp_path / "bench.toml"
        config.write_text(SETTINGS.format(*[address for address, _ in ends]))
        recorder = start("record", "--config", config, "--json")
        wait_until("three runs", lambda: store.exists() and len(_runs(store)) == 3)
        frozen, gone = ends[1][1], ends[2][1]
        os.kill(frozen.pid, signal.SIGSTOP)
        os.kill(gone.pid, signal.SIGKILL)
        Path(ends[2][0].removeprefix("scpi:")).unlink()  # as the system takes a port's name away
        try:
            wait_until("the second's alarm", lambda: "no-data" in alarms_in(store, 2) or None)
            wait_until("the third's alarm", lambda: "no-data" in alarms_in(store, 3) or None)
        finally:
            os.kill(frozen.pid, signal.SIGCONT)
        recorder.send_signal(signal.SIGTERM)
        _, talk = recorder.communicate(timeout=30)
        assert recorder.returncode == 0, talk
    assert "no-data" not in alarms_in(store, 1)
    done = in_process("export", "1", "--to", tmp_path / "good.csv", "--store", store)
    assert done.returncode == 0, done.stderr
    with (tmp_path / "good.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) > 10
    # What a busy machine was too late for is missing, with this reason and no other.
    assert {row["reason"] for row in rows if row["quality"] == "missing"} <= {"poll missed"}
    assert sum(row["quality"] in ("good", "late") for row in rows) > len(rows) / 2


def test_the_sound_stands_unchecked_until_the_operator_says_that_it_was_heard(
    tmp_path: Path,
) -> None:
    store, sounded = tmp_path / "runs.db", tmp_path / "sounded"
    with simulator("quiet-strip", "scpi-tcp", 1.0) as (address, _):
        config = tmp_path / "bench.toml"
        horn = tmp_path / "horn"
        horn.write_text(f'#!/bin/sh\necho "$1" >> {sounded}\n')
        horn.chmod(0o755)
        config.write_text(
            f'[supplies.bench-1]\naddress = "{address}"\nlimit_amps = 40.0\n'
            f'[sound]\ncommand = "{horn}"\n[store]\nfile = "runs.db"\n'
        )
        recorder = start("record", "--config", config)
        sound = wait_until("the sound's standing", lambda: _sound(store, "NOT CHECKED: the com"))
        wait_until("the first sound", lambda: sounded.exists() or None)
        assert "SOUND NOT CHECKED" in sound
        RequestBox(store).ask(1, RequestKind.SOUND_HEARD, by="Ada")
        assert wait_until("the proof", lambda: _sound(store, "heard")) == "sound heard by Ada"
        recorder.send_signal(signal.SIGTERM)
        recorder.communicate(timeout=30)


def test_units_of_one_wire_under_two_names_take_turns_in_one_thread(tmp_path: Path) -> None:
    """One name is the pseudo-terminal's own, the other a link to it, as by-id names are."""
    link, store = tmp_path / "by-name", tmp_path / "runs.db"
    rows: list[tuple[int, str, Sample | Gap]] = []
    complaints: list[str] = []

    def listen(run: RunRow, row: Sample | Gap, verdict: Verdict) -> None:
        rows.append((run.run, threading.current_thread().name, row))

    with playing("quiet-strip", "modbus-rtu", units=(1, 2), link_name=link):
        plans = [
            SupplyPlan(
                RunFacts(
                    f"bench-{unit}", f"modbus:{name}?unit={unit}&parity=none", 40.0, poll_s=0.05
                )
            )
            for unit, name in ((1, str(link)), (2, str(link.resolve())))
        ]
        Recorder(store, plans, listen, complaints.append).run(for_s=2.0)
    assert complaints == []
    assert {run for run, _, _ in rows} == {1, 2}
    assert len({thread for _, thread, _ in rows}) == 1
    # Two that read one wire would take each other's answers. On a busy machine one may be late.
    reasons = [row.reason for _, _, row in rows if isinstance(row, Gap)]
    assert set(reasons) <= {"no answer", "poll missed"}
    assert len(reasons) < len(rows) / 2
    with open_store(store) as opened:
        told = opened.run(1).statuses()["link"]
    assert re.search(r"\d+ late, 0 unreadable", told.text)


def _runs(store: Path) -> list[object]:
    done = in_process("runs", "--json", "--store", store)
    return list(lines_of(done.stdout)) if done.returncode == 0 else []


def _sound(store: Path, words: str) -> str | None:
    try:
        with open_store(store) as opened:
            text = opened.run(1).statuses()["sound"].text
    except (StoreError, KeyError):
        return None
    return text if words in text else None
