"""Keeps the machine from going to sleep while a run is recorded.

A child process holds the system's own lock for as long as we hold its stdin: it ends with us,
however we end.
"""

import shutil
import subprocess
import sys
from contextlib import suppress

from drivers.base.clock import Clock
from monitor.model.event import Status
from monitor.text.badges import MAY_SLEEP

SLEEP = "sleep"
"""Name of the status."""
SETTLED_S = 0.5
"""A child that is still there after so long holds the lock."""


def command_line() -> list[str] | None:
    """What asks this machine's system to stay awake; None where we know of nothing."""
    if sys.platform == "darwin":
        return ["caffeinate", "-i", "cat"]
    if shutil.which("systemd-inhibit") is None:
        return None
    return [
        "systemd-inhibit", "--what=sleep:idle", "--who=bathvigil", "--mode=block",
        "--why=a strip is being watched", "cat",
    ]  # fmt: skip


class Wakefulness:
    """Keeps the machine awake for one recorder.

    Parameters
    ----------
    real
        The machine's clock.
    line
        What asks; None where nothing can.
    """

    def __init__(self, real: Clock, line: list[str] | None) -> None:
        self._real = real
        self._line = line
        self._child: subprocess.Popen[bytes] | None = None

    def begin(self) -> Status:
        """Ask, and tell whether the machine will stay awake."""
        if self._line is None:
            return self._told(f"{MAY_SLEEP}: nothing here can keep it awake", False)
        try:
            self._child = subprocess.Popen(
                self._line,
                stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.PIPE,
                start_new_session=True,
            )
            self._child.wait(SETTLED_S)
        except subprocess.TimeoutExpired:
            return self._told("this computer is kept awake", True)
        except OSError as failure:
            why = f"{self._line[0]} cannot be run: {failure.strerror}"
            return self._told(f"{MAY_SLEEP}: {why}", False)
        assert self._child.stderr is not None
        lines = self._child.stderr.read().decode("utf-8", "replace").strip().splitlines()
        why = lines[-1][:120] if lines else f"{self._line[0]} ended"
        return self._told(f"{MAY_SLEEP}: {why}", False)

    def end(self) -> None:
        """Let the machine sleep again."""
        if self._child is None:
            return
        for pipe in (self._child.stdin, self._child.stderr):
            if pipe is not None:
                with suppress(OSError):
                    pipe.close()
        with suppress(subprocess.TimeoutExpired):
            self._child.wait(2.0)
        if self._child.poll() is None:
            self._child.kill()
            self._child.wait()

    def _told(self, text: str, is_well: bool) -> Status:
        return Status(SLEEP, self._real.utc_ns(), text, is_well)
