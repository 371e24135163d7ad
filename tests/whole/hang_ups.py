"""A supply that hangs up on every caller: what its recorder holds open meanwhile.

Nobody is at the address of the notices or of the heartbeat either, and no sound can be made.
"""

import os
import signal
import socket
import struct
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import partial
from itertools import cycle
from pathlib import Path

from tests.whole.processes import PATIENCE_S, wait_until

RUN = """
import resource, sys
resource.setrlimit(resource.RLIMIT_NOFILE, (40, 40))

import monitor.recorder.station as station
station.FIRST_RETRY_S = station.LAST_RETRY_S = 0.001

from monitor.commands.main import main
main()
"""
SETTINGS = """
[supplies.bench-1]
address = "scpi:tcp://127.0.0.1:{port}"
limit_amps = 40.0
poll_s = 0.05
timeout_s = 0.2

[no_data]
after_s = 1

[sound]
command = "false"

[notices]
within_s = 1
tries = 1

[notices.channels.office]
webhook = "http://127.0.0.1:9/"

[heartbeat]
beat_url = "http://127.0.0.1:9/"
every_s = 1

[store]
file = "runs.db"
"""


class HangsUp:
    """A supply on the loopback that hangs up in one way after another, some after an answer."""

    def __init__(self) -> None:
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.calls = 0
        self.thread = threading.Thread(target=self._serve, daemon=True)
        self.thread.start()

    def had(self, calls: int) -> bool:
        """Whether so many have called."""
        return self.calls >= calls

    def _serve(self) -> None:
        ways = cycle((self._close, self._reset, self._name_and_close, self._answer_and_reset))
        with suppress(OSError):
            while True:
                caller, _ = self.listener.accept()
                self.calls += 1
                caller.settimeout(1.0)
                with caller, suppress(OSError):
                    next(ways)(caller)

    def _close(self, caller: socket.socket) -> None:
        del caller

    def _reset(self, caller: socket.socket) -> None:
        # Lingering for no time sends a reset instead of a farewell: socket(7).
        caller.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))

    def _name_and_close(self, caller: socket.socket) -> None:
        self._answer(caller, 1)

    def _answer_and_reset(self, caller: socket.socket) -> None:
        self._answer(caller, 12)
        self._reset(caller)

    def _answer(self, caller: socket.socket, questions: int) -> None:
        words = {"*IDN?": "Bench,Supply,1,1", "MEAS:VOLT?": "9.0", "MEAS:CURR?": "7.5"}
        for _ in range(questions):
            line = b""
            while not line.endswith(b"\n"):
                line += caller.recv(1) or b"\n"
            parts = line.decode().strip().upper().split(";")
            answer = ";".join(words.get(part.lstrip(":"), '0,"No error"') for part in parts)
            caller.sendall(answer.encode() + b"\n")


@contextmanager
def hangs_up() -> Iterator[HangsUp]:
    one = HangsUp()
    yield one
    one.listener.close()


def counts(pid: int) -> tuple[int, int]:
    """Open files and threads of a process."""
    return len(os.listdir(f"/proc/{pid}/fd")), len(os.listdir(f"/proc/{pid}/task"))  # noqa: PTH208


def hang_up_again_and_again(folder: Path, calls: int, looks: int = 12) -> list[tuple[int, int]]:
    """Open files and threads of a recorder, so many times over so many calls; 40 files at most."""
    config, found = folder / "bench.toml", []
    with hangs_up() as supply:
        config.write_text(SETTINGS.format(port=supply.listener.getsockname()[1]))
        line = [sys.executable, "-c", RUN, "record", "--config", str(config), "--keep-trying"]
        quiet = subprocess.DEVNULL
        recorder = subprocess.Popen(line, stdin=quiet, stdout=quiet, stderr=quiet)
        try:
            for number in range(1, looks + 1):
                wait_until("calls", partial(supply.had, calls * number // looks), 600.0)
                found.append(counts(recorder.pid))
            recorder.send_signal(signal.SIGTERM)
            assert recorder.wait(PATIENCE_S) == 0
        finally:
            recorder.kill()
            recorder.wait()
    return found
