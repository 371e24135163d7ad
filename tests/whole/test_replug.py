"""Cables pulled and plugged in, supplies exchanged, ports taken: on real pseudo-terminals."""

import csv
import json
import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import pytest

from drivers.address import parse_address
from drivers.base.clock import SystemClock, sped_clock_from_now
from drivers.driver import DriverSetUp
from drivers.registry import open_driver
from monitor.model.run import RunFacts
from monitor.model.sample import Gap, Sample
from monitor.recorder.schedule import Schedule
from monitor.recorder.station import Station
from monitor.watch.vigil import Verdict, Vigil
from tests.drivers.fake_end import PtyEnd
from tests.drivers.fake_supply import FakeSupply
from tests.whole.processes import PATIENCE_S, bathvigil, in_process, lines_of, start, wait_until

POLL_S = 0.02
REASONS = {
    "port missing",
    "link lost",
    "no answer",
    "unreadable answer",
    "poll missed",
    "host paused",
}


def open_files() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


class Watched:
    """One station on a real driver; its rows, and for each sample what the supply had given."""

    def __init__(self, address: str, supply: FakeSupply) -> None:
        clock = SystemClock()
        self.supply = supply
        self.rows: list[Sample | Gap] = []
        self.strangers: list[Sample] = []
        facts = RunFacts("bench-1", address, limit_amps=10.0, poll_s=POLL_S)
        began_ns = clock.monotonic_ns()
        self.given_before = 0
        self.station = Station(
            run=1,
            driver=open_driver(DriverSetUp(parse_address(address), clock, timeout_s=0.02)),
            vigil=Vigil(facts),
            schedule=Schedule(began_ns, POLL_S),
            began_ns=began_ns,
            clock=clock,
            # Waits between tries to open are sped up; deadlines are not.
            real=sped_clock_from_now(50.0),
            sink=self.take,
        )

    def take(self, run: int, row: Sample | Gap, verdict: Verdict) -> None:
        self.rows.append(row)
        if isinstance(row, Sample):
            own = {(one.quantity, one.value) for one in self.supply.given[self.given_before :]}
            if ("volts", row.volts) not in own or ("amps", row.amps) not in own:
                self.strangers.append(row)

    def poll(self) -> None:
        self.given_before = len(self.supply.given)
        due_s = (self.station.schedule.next_ns - time.monotonic_ns()) / 1e9
        if due_s > 0:
            time.sleep(due_s)
        self.station.poll()

    def poll_for_a_sample(self) -> bool:
        before = self.samples
        self.poll()
        return self.samples > before

    @property
    def samples(self) -> int:
        return sum(isinstance(row, Sample) for row in self.rows)


@pytest.mark.parametrize("unpluggings", [20, pytest.param(200, marks=pytest.mark.trial)])
def test_unpluggings_end_no_run_and_leave_no_file_open(unpluggings: int, tmp_path: Path) -> None:
    supply, chance = FakeSupply(), random.Random(11)
    with PtyEnd(supply, tmp_path / "port") as end:
        end.options = "?quiet_ms=2"
        watched = Watched(end.address, supply)
        stop = threading.Event()
        counts: list[int] = []

        def pull() -> None:
            """Pull the cable at any moment, in the midst of a question too."""
            for count in range(unpluggings):
                time.sleep(chance.uniform(0.0, 0.03))
                end.unplug()
                # Mostly at once; now and then so late that it is looked for in vain.
                time.sleep(chance.uniform(0.0, 0.02) if count % 10 else 0.15)
                end.plug_in()
                before = watched.samples
                give_up = time.monotonic() + 10.0
                while watched.samples == before and time.monotonic() < give_up:
                    time.sleep(0.005)
                counts.append(watched.samples - before)
            stop.set()

        puller = threading.Thread(target=pull)
        wait_until("a first sample", watched.poll_for_a_sample)
        files = open_files()
        puller.start()
        while not stop.is_set():
            watched.poll()
        puller.join()
        # A question that is answered late closes the port: on a busy machine the last one, too.
        wait_until("the port to be open again", watched.poll_for_a_sample)
        # Other tests of this process may have left some that have gone since.
        assert open_files() <= files
        watched.station.close()
    assert len(counts) == unpluggings
    assert min(counts) > 0, "after each plugging-in the same run went on"
    assert watched.strangers == []
    assert [row.seq for row in watched.rows] == list(range(len(watched.rows)))
    gaps = [row for row in watched.rows if isinstance(row, Gap)]
    assert {gap.reason for gap in gaps} <= REASONS
    assert {"port missing", "link lost"} <= {gap.reason for gap in gaps}
    assert all(gap.detail for gap in gaps)


@contextmanager
def simulated(
    link: Path, number: int, log: Path, kind: str = "scpi-serial"
) -> Iterator["subprocess.Popen[str]"]:
    """A supply of one number under a name that stays the same."""
    line = [sys.executable, "-m", "simulators", "--scene", "quiet-strip", "--link", kind]
    line += ["--link-name", str(link), "--number", str(number), "--log", str(log)]
    process = subprocess.Popen(line, stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        process.stdout.readline()
        yield process
    finally:
        process.terminate()
        process.wait(PATIENCE_S)
        if process.stdout is not None:
            process.stdout.close()


def end_for_good(process: "subprocess.Popen[str]") -> None:
    """Whatever went wrong, no recorder outlives its test."""
    if process.poll() is None:
        process.kill()
        process.communicate(timeout=PATIENCE_S)


def questions(log: Path) -> list[str]:
    if not log.exists():
        return []
    # The last line may be half written.
    whole, _, _ = log.read_text().rpartition("\n")
    return [str(json.loads(line)["question"]) for line in whole.splitlines()]


DESCRIPTION = """
format = 1
kind = "modbus"
title = "simulated"
source = "the simulator's own map"
[volts]
function = 3
address = 0
type = "uint16"
scale = 0.01
source = "map"
[amps]
function = 3
address = 1
type = "uint16"
scale = 0.01
source = "map"
[identity]
function = 3
address = 16
registers = 2
source = "map"
"""
WHO = {"scpi-serial": "*IDN?", "modbus-rtu": "01 03 00 10 00 02 c5 ce"}
"""All that may be asked of a stranger: its name, or its two registers of identity."""


@pytest.mark.parametrize("kind", WHO)
def test_of_a_supply_put_in_the_place_of_another_nothing_is_stored(
    kind: str, tmp_path: Path
) -> None:
    link, store, out = tmp_path / "port", tmp_path / "runs.db", tmp_path / "run.csv"
    logs = [tmp_path / f"{name}.jsonl" for name in ("first", "other", "again")]
    address = f"scpi:{link}"
    if kind == "modbus-rtu":
        description = tmp_path / "map.toml"
        description.write_text(DESCRIPTION, encoding="utf-8")
        address = f"modbus:{link}?parity=none&description={description}"

    def measured(log: Path) -> int:
        return sum(one.strip().lower() != WHO[kind].lower() for one in questions(log))

    with ExitStack() as held:
        with simulated(link, 1, logs[0], kind):
            recorder = start(
                "record", address, "--limit-amps", "10", "--poll-s", "0.05", "--store", store
            )
            held.callback(end_for_good, recorder)
            wait_until("readings", lambda: measured(logs[0]) > 40)
        with simulated(link, 2, logs[1], kind):
            wait_until("the other one to be asked its name", lambda: len(questions(logs[1])) >= 2)
            time.sleep(3.0)
        with simulated(link, 1, logs[2], kind):
            wait_until("readings of the first one again", lambda: measured(logs[2]) > 20)
        recorder.send_signal(signal.SIGTERM)
        _, err = recorder.communicate(timeout=PATIENCE_S)
    assert recorder.returncode == 0, err
    assert measured(logs[1]) == 0, "it was asked its name only"
    (run,) = lines_of(in_process("runs", "--json", "--store", store).stdout)
    assert in_process("export", "1", "--to", out, "--store", store).returncode == 0
    with out.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    reasons = [row["reason"] for row in rows]
    assert "wrong supply" in reasons
    wrong = [place for place, reason in enumerate(reasons) if reason == "wrong supply"]
    assert all(not rows[place]["volts"] for place in wrong)
    assert any(row["volts"] for row in rows[: wrong[0]])
    assert any(row["volts"] for row in rows[wrong[-1] :]), "the same run went on"
    assert run["ended_why"] == "stopped"


def test_a_port_has_one_owner_whose_death_frees_it(tmp_path: Path) -> None:
    link, log = tmp_path / "port", tmp_path / "log.jsonl"
    with simulated(link, 1, log):
        first = start(
            "record", f"scpi:{link}", "--limit-amps", "10", "--store", tmp_path / "first.db"
        )
        try:
            wait_until("readings", lambda: len(questions(log)) > 20)
            second = bathvigil(
                "record", f"scpi:{link}", "--limit-amps", "10", "--store", tmp_path / "second.db"
            )
            assert second.returncode == 1
            assert f"(process {first.pid})" in second.stderr
            told = bathvigil("check", f"scpi:{link}", "--store", tmp_path / "second.db")
            assert told.returncode == 1
            assert f"(process {first.pid})" in told.stdout
            mine = bathvigil("check", f"scpi:{link}", "--store", tmp_path / "first.db")
            assert mine.returncode == 0, mine.stdout
            assert "the recorder" in mine.stdout
        finally:
            os.kill(first.pid, signal.SIGKILL)
            first.communicate(timeout=PATIENCE_S)
        third = bathvigil(
            "record", f"scpi:{link}", "--limit-amps", "10", "--for-s", "1",
            "--store", tmp_path / "second.db",
        )  # fmt: skip
        assert third.returncode == 0, third.stderr
