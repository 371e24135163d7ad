"""From a reply's last byte on the wire to the sound: `make bench-alarms` writes ALARMS.md.

A supply of our own cuts out again and again, from within 1 % of its limit, so that the first dead
answer is a cut-out beyond doubt; the recorder is the real command, its sounder a script that writes
the time. Four things stand in the way, one after another.
"""

import os
import signal
import socket
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext, suppress
from dataclasses import dataclass, field
from pathlib import Path

from benchmarks.page import Figure, write
from monitor.recorder.lock import holder
from tests.monitor.recorder.notices.receivers import receiver
from tests.whole.bath_trial import OnTerminal
from tests.whole.processes import command_line, wait_until

POLL_S = 0.1
TRIPS = 60
IN_THE_WAY_S = 61.0
"""Seconds for which each thing stands in the way at the least."""
WITHIN_MS = 1000 * POLL_S + 50.0
REPORT = Path(__file__).with_name("ALARMS.md")

SETTINGS = """
[supplies.bench-2]
address = "scpi:tcp://127.0.0.1:{port}"
limit_amps = 40.0
poll_s = {poll_s}

[sound]
command = "{horn}"
again_every_s = 60.0

[store]
file = "runs.db"
"""


@dataclass
class CuttingOut:
    """A supply on the loopback that delivers near its limit, or cuts out when told to."""

    is_out: bool = False
    is_sent: threading.Event = field(default_factory=threading.Event)
    sent_ns: int = 0

    def serve(self, listener: socket.socket) -> None:
        """Answer callers until the listener is closed."""
        with suppress(OSError):
            while True:
                connection, _ = listener.accept()
                connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                threading.Thread(target=self._answer, args=(connection,), daemon=True).start()

    def _answer(self, connection: socket.socket) -> None:
        data = b""
        with suppress(OSError), connection:
            while more := connection.recv(4096):
                data += more
                while b"\n" in data:
                    line, _, data = data.partition(b"\n")
                    self._say(connection, line.decode().strip().upper())

    def _say(self, connection: socket.socket, question: str) -> None:
        is_out = self.is_out
        words = {"*IDN?": "Bench,Supply,1,1", "MEAS:VOLT?": "9.0", ":MEAS:CURR?": "39.8"}
        if is_out:
            words |= {"MEAS:VOLT?": "0.0", ":MEAS:CURR?": "0.0"}
        if "SYST" in question:
            words[question] = '0,"No error"'
        answer = ";".join(words.get(part, "0") for part in question.split(";"))
        connection.sendall(answer.encode() + b"\n")
        if is_out and "MEAS:VOLT?" in question and not self.is_sent.is_set():
            self.sent_ns = time.time_ns()
            self.is_sent.set()


def latencies_ms(more: str, around: Callable[[Path], AbstractContextManager[None]]) -> list[float]:
    """Trip the supply again and again; milliseconds from each dead answer to the sound.

    Parameters
    ----------
    more
        Further settings.
    around
        Given the store, stands in the way while it is measured.
    """
    supply = CuttingOut()
    listener = socket.create_server(("127.0.0.1", 0))
    threading.Thread(target=supply.serve, args=(listener,), daemon=True).start()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        sounds, horn, config = folder / "sounds", folder / "horn", folder / "bench.toml"
        sounds.touch()
        horn.write_text(f'#!/bin/sh\necho "$(date +%s%N)" >> {sounds}\n')
        horn.chmod(0o755)
        port = listener.getsockname()[1]
        config.write_text(SETTINGS.format(port=port, poll_s=POLL_S, horn=horn) + more)
        line = command_line("record", "--config", config)
        quiet = subprocess.DEVNULL
        recorder = subprocess.Popen(line, stdin=quiet, stdout=quiet, stderr=quiet)
        store = folder / "runs.db"
        try:
            wait_until("a recorder", lambda: holder(store))
            time.sleep(2.0)
            with around(store):
                latencies, until_s = list[float](), time.monotonic() + IN_THE_WAY_S
                while len(latencies) < TRIPS or time.monotonic() < until_s:
                    latencies.append(_one(supply, sounds))
        finally:
            recorder.terminate()
            try:
                recorder.wait(20)
            except subprocess.TimeoutExpired:
                recorder.kill()
                recorder.wait()
            listener.close()
    return latencies


def _one(supply: CuttingOut, sounds: Path) -> float:
    supply.is_sent.clear()
    supply.is_out = True
    assert supply.is_sent.wait(10.0), "the supply is asked no more"
    sent_ns = supply.sent_ns

    def heard() -> int | None:
        times = [int(line) for line in sounds.read_text().split()]
        return next((ns for ns in times if ns >= sent_ns), None)

    sound_ns = wait_until("a sound", heard, 10.0)
    supply.is_out = False
    # The return sounds too, since the alarm is latched; it must be over before the next trip.
    time.sleep(4 * POLL_S)
    return (sound_ns - sent_ns) / 1e6


@contextmanager
def locked(store: Path) -> Iterator[None]:
    """Another program holds the store."""
    connection = sqlite3.connect(store, timeout=10.0, isolation_level=None)
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
    finally:
        connection.execute("ROLLBACK")
        connection.close()


@contextmanager
def stopped_screen(store: Path) -> Iterator[None]:
    """A screen looks at the run, and is stopped in the middle of it."""
    screen = OnTerminal([sys.executable, "-m", "tui", "live", "--store", str(store), "--run", "1"])
    time.sleep(3.0)
    os.killpg(screen.process.pid, signal.SIGSTOP)
    try:
        yield
    finally:
        screen.kill()


def nothing(store: Path) -> AbstractContextManager[None]:
    """Nothing stands in the way."""
    return nullcontext()


Around = Callable[[Path], AbstractContextManager[None]]


def main() -> int:
    """Measure all five; 1 where one is slower than a poll and 50 ms."""
    with receiver() as mute, receiver() as silent:
        notices = f'\n[notices.channels.office]\nwebhook = "{mute.url}"\n'
        forward = f'\n[forward]\nurl = "{silent.url}"\nbucket = "b"\norg = "o"\nbench = "x"\n'
        cases: dict[str, tuple[str, Around]] = {
            "nothing": ("", nothing),
            "a notice server that never answers": (notices, nothing),
            "the store locked by another process": ("", locked),
            "the screen stopped": ("", stopped_screen),
            "a forward server that never answers": (forward, nothing),
        }
        figures: list[Figure] = []
        for name, (more, around) in cases.items():
            latencies = sorted(latencies_ms(more, around))
            median, high = (
                statistics.median(latencies),
                latencies[round(0.99 * (len(latencies) - 1))],
            )
            figures.append(
                Figure(
                    f"reply's last byte to the sound; in the way: {name}",
                    f"median {median:.1f} ms, 99 % within {high:.1f} ms, {len(latencies)} trips",
                    f"under {WITHIN_MS:g} ms",
                    high < WITHIN_MS,
                )
            )
            print(figures[-1], flush=True)
    below = (
        f"Polled every {1000 * POLL_S:g} ms; each thing stands in the way for {IN_THE_WAY_S:.0f} s "
        "or more; the goal is one poll and 50 ms. The time includes the start of the sound "
        "command, a shell that writes the time."
    )
    return write(
        REPORT, "From the reply's last byte to the sound", "make bench-alarms", figures, below
    )


if __name__ == "__main__":
    sys.exit(main())
