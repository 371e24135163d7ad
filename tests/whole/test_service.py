"""The recorder as a service: what it says to a real socket, and its silence while it is stuck."""

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.whole.processes import PATIENCE_S, simulator, wait_until

RUN = """
import sys, threading
from pathlib import Path

what, stall = sys.argv.pop(1), Path(sys.argv.pop(1))

import monitor.recorder.upkeep as upkeep
from monitor.recorder.station import Station
from monitor.store.writer import StoreWriter

upkeep.FRESH_S, upkeep.LOOK_EVERY_S = 1.5, 0.2

def stuck(real):
    def waits(self, *given):
        while stall.exists():
            threading.Event().wait(0.05)
        return real(self, *given)
    return waits

if what == "polling":
    Station.poll = stuck(Station.poll)
else:
    StoreWriter.write = stuck(StoreWriter.write)

from monitor.commands.main import main
main()
"""
UNIT = Path(__file__).parents[2] / "packaging" / "bathvigil.service"


class Service:
    """A recorder as a service manager starts it, with a socket that takes what it says."""

    def __init__(self, folder: Path, address: str, what: str) -> None:
        self.stall, self.beat = folder / "stall", folder / "beat"
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.socket.bind(str(folder / "notify"))
        config = folder / "bench.toml"
        config.write_text(
            f'[supplies.bench-1]\naddress = "{address}"\nlimit_amps = 40.0\n'
            f'[sound]\ncommand = "true"\n[store]\nfile = "runs.db"\n'
            f'[heartbeat]\nbeat_file = "{self.beat}"\nevery_s = 1\n'
        )
        line = [sys.executable, "-c", RUN, what, str(self.stall), "record"]
        # sd_notify(3): where the manager listens.
        environment = {**os.environ, "NOTIFY_SOCKET": str(folder / "notify")}
        quiet = subprocess.DEVNULL
        self.process = subprocess.Popen(
            [*line, "--config", str(config)],
            stdin=quiet,
            stdout=quiet,
            stderr=quiet,
            env=environment,
        )

    def next_word(self, within_s: float = PATIENCE_S) -> str | None:
        """What it says next; None where it says nothing for so long."""
        self.socket.settimeout(within_s)
        try:
            return self.socket.recv(64).decode("ascii")
        except TimeoutError:
            return None

    def close(self) -> None:
        self.process.kill()
        self.process.wait(PATIENCE_S)
        self.socket.close()


@pytest.fixture(params=["polling", "writing"])
def service(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Service]:
    with simulator("quiet-strip", "scpi-tcp", 1.0) as (address, _):
        one = Service(tmp_path, address, request.param)
        yield one
        one.close()


def test_the_watchdog_and_the_heartbeat_stop_while_polling_or_writing_is_stuck(
    service: Service,
) -> None:
    assert service.next_word() == "READY=1"
    for _ in range(3):
        assert service.next_word() == "WATCHDOG=1"
    wait_until("a beat", lambda: service.beat.exists() or None)
    service.stall.touch()
    # What it found fresh a moment ago is fresh for a while yet.
    until_s = time.monotonic() + 3.0
    while time.monotonic() < until_s:
        service.next_word(0.1)
    beat_ns = service.beat.stat().st_mtime_ns
    assert service.next_word(1.5) is None
    assert service.beat.stat().st_mtime_ns == beat_ns
    service.stall.unlink()
    assert service.next_word() == "WATCHDOG=1"
    wait_until("a beat", lambda: service.beat.stat().st_mtime_ns > beat_ns or None)
    service.process.send_signal(signal.SIGTERM)
    assert service.process.wait(PATIENCE_S) == 0
    words = []
    while (word := service.next_word(0.1)) is not None:
        words.append(word)
    assert words[-1] == "STOPPING=1"


@pytest.mark.skipif(
    shutil.which("systemd-analyze") is None, reason="needs systemd-analyze: apt install systemd"
)
def test_systemd_finds_nothing_wrong_with_the_unit_file(tmp_path: Path) -> None:
    text = UNIT.read_text(encoding="utf-8")
    command = "%h/.local/bin/bathvigil"
    assert text.count(command) == 1, "where pipx and uv tool put a command for one user"
    copy = tmp_path / UNIT.name
    copy.write_text(text.replace(command, sys.executable), encoding="utf-8")
    line = ["systemd-analyze", "verify", str(copy)]
    done = subprocess.run(line, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
