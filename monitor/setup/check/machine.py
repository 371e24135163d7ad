"""What the checks ask of the machine: programs, free room, time; handed in for the tests."""

import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path
from typing import Protocol

from drivers.base.clock import SystemClock

_PATIENCE_S = 3.0


class Machine(Protocol):
    """The machine that a recorder would run on."""

    def utc_ns(self) -> int:
        """Nanoseconds since 1970, by its own clock."""
        ...

    def free_bytes(self, folder: Path) -> int:
        """Room on the disk of a folder, for this user; raises `OSError`."""
        ...

    def has_program(self, name: str) -> bool:
        """Whether there is a program of that name."""
        ...

    def says(self, line: Sequence[str]) -> str | None:
        """What a program prints; None where there is none, or it fails or hangs."""
        ...


class ThisMachine:
    """The machine that we run on."""

    def utc_ns(self) -> int:
        return SystemClock().utc_ns()

    def free_bytes(self, folder: Path) -> int:
        return shutil.disk_usage(folder).free

    def has_program(self, name: str) -> bool:
        return shutil.which(name) is not None

    def says(self, line: Sequence[str]) -> str | None:
        try:
            done = subprocess.run(
                list(line),
                capture_output=True,
                text=True,
                timeout=_PATIENCE_S,
                check=False,
                stdin=subprocess.DEVNULL,
            )
        except (OSError, subprocess.TimeoutExpired):
            return None
        return done.stdout.strip() if done.returncode == 0 else None
