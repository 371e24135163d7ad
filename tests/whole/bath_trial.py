"""A whole bench on trial: recorder and screen on terminals, a small disk, a track of faults.

What happened is left in files: the simulator's log of every exchange, the store, and a line for
every sound. `bath_findings` judges them.
"""

import os
import pty
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from monitor.recorder.lock import holder
from tests.whole.bath_track import AROUND, AROUND_S, Strike, faults_file
from tests.whole.processes import PATIENCE_S, command_line, wait_until

SETTINGS = """
[supplies.bench-2]
address = "{address}"
limit_amps = 40.0
poll_s = {poll_s}
bath = "north tank"

[baths."north tank"]
litres = 9.0

[no_data]
after_s = {no_data_s}

[sound]
command = "{horn}"
again_every_s = 2.0

[notices]
within_s = 1.0

[notices.channels.office]
webhook = "{webhook}"

[store]
file = "disk/runs.db"
"""


@dataclass
class Outage:
    """A stretch of the machine's wall clock in which no recorder could run, seconds since 1970."""

    began_s: float
    ended_s: float


@dataclass
class Trial:
    """What a trial leaves behind.

    Parameters
    ----------
    folder
        Holds the files.
    speed, poll_s
        Bath seconds per real second; bath seconds between polls.
    strikes
        The faults that were tried.
    outages
        When the recorder was stopped or killed by them.
    """

    folder: Path
    speed: float
    poll_s: float
    strikes: list[Strike]
    outages: list[Outage] = field(default_factory=list)
    has_small_disk: bool = False

    @property
    def store(self) -> Path:
        return self.folder / "disk" / "runs.db"

    @property
    def log(self) -> Path:
        return self.folder / "exchanges.jsonl"

    @property
    def sounds(self) -> Path:
        return self.folder / "sounds"


class OnTerminal:
    """A process on a pseudo-terminal of its own, whose output is read and thrown away."""

    def __init__(self, line: list[str]) -> None:
        self._master, slave = pty.openpty()
        environment = {**os.environ, "TERM": "xterm-256color", "COLUMNS": "100", "LINES": "30"}
        self.process = subprocess.Popen(
            line,
            stdin=slave,
            stdout=slave,
            stderr=slave,
            start_new_session=True,
            env=environment,
        )
        os.close(slave)
        self._reader = threading.Thread(target=self._drain, daemon=True)
        self._reader.start()

    def _drain(self) -> None:
        with suppress(OSError):
            while os.read(self._master, 65536):
                pass

    def kill(self) -> None:
        """Kill it and what it started in its session."""
        with suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(PATIENCE_S)
        self._reader.join(PATIENCE_S)
        os.close(self._master)


@contextmanager
def small_disk(at: Path, megabytes: int) -> Iterator[bool]:
    """A file system of a few megabytes where we may mount one; else a plain folder."""
    at.mkdir()
    options = f"size={megabytes}m"
    mount = ["mount", "-t", "tmpfs", "-o", options, "bathvigil-trial", str(at)]
    is_small = False
    with suppress(OSError):
        is_small = subprocess.run(mount, capture_output=True, check=False).returncode == 0
    try:
        yield is_small
    finally:
        if is_small:
            subprocess.run(["umount", "-l", str(at)], check=False)


class Bench:
    """The processes of a trial, and what can be done to them."""

    def __init__(self, trial: Trial, supply: "subprocess.Popen[str]", config: Path) -> None:
        self.trial = trial
        self.supply = supply
        self.config = config
        self.recorder = self._record()
        wait_until("a recorder", lambda: holder(trial.store))
        self.screen = self._watch()
        self.does: dict[str, Callable[[], None]] = {
            "recorder stopped": self.stop_recorder,
            "recorder killed": self.kill_recorder,
            "store locked": self.lock_store,
            "disk full": self.fill_disk,
            "screen killed": self.kill_screen,
            "screen stopped": self.stop_screen,
            "supply stopped": self.stop_supply,
        }
        assert set(self.does) == set(AROUND)

    def _record(self) -> OnTerminal:
        speed = str(self.trial.speed)
        line = command_line("record", "--config", self.config, "--clock-speed", speed)
        return OnTerminal([*line, "--keep-trying", "--json"])

    def _watch(self) -> OnTerminal:
        return OnTerminal(command_line("watch", "--config", self.config))

    def stop_recorder(self) -> None:
        began_s = time.time()
        os.kill(self.recorder.process.pid, signal.SIGSTOP)
        time.sleep(AROUND_S)
        os.kill(self.recorder.process.pid, signal.SIGCONT)
        self.trial.outages.append(Outage(began_s, time.time()))

    def kill_recorder(self) -> None:
        began_s = time.time()
        self.recorder.kill()
        self.recorder = self._record()
        wait_until("the next recorder", lambda: holder(self.trial.store))
        self.trial.outages.append(Outage(began_s, time.time()))

    def lock_store(self) -> None:
        other = sqlite3.connect(self.trial.store, timeout=5.0, isolation_level=None)
        try:
            other.execute("BEGIN IMMEDIATE")
            time.sleep(AROUND_S)
            other.execute("ROLLBACK")
        finally:
            other.close()

    def fill_disk(self) -> None:
        if not self.trial.has_small_disk:
            return
        filler = self.trial.store.with_name("filler")
        with suppress(OSError), filler.open("wb") as file:
            while True:
                file.write(bytes(65536))
        time.sleep(AROUND_S)
        filler.unlink()

    def kill_screen(self) -> None:
        self.screen.kill()
        self.screen = self._watch()

    def stop_screen(self) -> None:
        with suppress(ProcessLookupError):
            os.killpg(self.screen.process.pid, signal.SIGSTOP)
            time.sleep(AROUND_S)
            os.killpg(self.screen.process.pid, signal.SIGCONT)

    def stop_supply(self) -> None:
        os.kill(self.supply.pid, signal.SIGSTOP)
        time.sleep(AROUND_S)
        os.kill(self.supply.pid, signal.SIGCONT)

    def close(self) -> None:
        """End the recorder as its operator would, and the screen."""
        self.screen.kill()
        os.kill(self.recorder.process.pid, signal.SIGTERM)
        self.recorder.process.wait(PATIENCE_S)
        self.recorder.kill()


def hold_trial(
    folder: Path,
    strikes: list[Strike],
    seconds: float,
    webhook: str,
    speed: float = 12.0,
    poll_s: float = 2.4,
    scene: str = "tank-warms-to-trip",
    seed: int = 1,
) -> Iterator[Trial]:
    """Run it for so many real seconds; the trial with its files, before they are taken down.

    Parameters
    ----------
    webhook
        Where the notices go; best one that never answers.
    """
    trial = Trial(folder, speed, poll_s, strikes)
    faults, horn, config = folder / "faults.toml", folder / "horn", folder / "bench.toml"
    faults.write_text(faults_file(strikes, speed / poll_s))
    horn.write_text(f'#!/bin/sh\necho "$(date +%s.%N) $1" >> {trial.sounds}\n')
    horn.chmod(0o755)
    line = [sys.executable, "-m", "simulators", "--scene", scene, "--link", "scpi-tcp"]
    line += ["--speed", str(speed), "--seed", str(seed), "--log", str(trial.log)]
    line += ["--faults", str(faults)]
    with small_disk(folder / "disk", 80) as trial.has_small_disk:
        supply = subprocess.Popen(line, stdout=subprocess.PIPE, text=True)
        assert supply.stdout is not None
        address = supply.stdout.readline().strip()
        # Two real seconds, or three polls if that is more.
        no_data_s = min(max(2.0 * speed, 3.0 * poll_s), 30.0)
        config.write_text(
            SETTINGS.format(
                address=address, poll_s=poll_s, no_data_s=no_data_s, horn=horn, webhook=webhook
            )
        )
        bench = Bench(trial, supply, config)
        try:
            began_s = time.monotonic()
            for strike in strikes:
                if strike.kind not in bench.does:
                    continue
                time.sleep(max(began_s + strike.at_s - time.monotonic(), 0.0))
                bench.does[strike.kind]()
            time.sleep(max(began_s + seconds - time.monotonic(), 0.0))
        finally:
            bench.close()
            supply.terminate()
            supply.wait(PATIENCE_S)
            supply.stdout.close()
        yield trial
