"""The clock that all code is handed: the only file that asks the system for the time.

Monotonic nanoseconds are for arithmetic and UTC nanoseconds for the record; see `Clock`.
"""

import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol


class Clock(Protocol):
    """What the rest of the code may ask about time."""

    def monotonic_ns(self) -> int:
        """Nanoseconds that never step; comparable between processes of one boot."""
        ...

    def utc_ns(self) -> int:
        """Nanoseconds since 1970-01-01 UTC; steps when the machine's clock is set."""
        ...

    def wait(self, seconds: float, until: threading.Event | None = None) -> bool:
        """Wait `seconds`, or until the event is set; True when the event ended the wait."""
        ...


class SystemClock:
    """The machine's own clocks."""

    def monotonic_ns(self) -> int:
        return time.monotonic_ns()

    def utc_ns(self) -> int:
        return time.time_ns()

    def wait(self, seconds: float, until: threading.Event | None = None) -> bool:
        if until is not None:
            return until.wait(max(seconds, 0.0))
        time.sleep(max(seconds, 0.0))
        return False


@dataclass(frozen=True, slots=True)
class SpedClock:
    """A clock that runs `speed` times as fast as the machine's, for simulated supplies.

    Both times run from an anchor, so that two processes given the same anchor agree.

    Parameters
    ----------
    speed
        Seconds of this clock per second of the machine's.
    anchor_monotonic_ns, anchor_utc_ns
        The machine's two clocks at the moment when this clock and the machine's agree.
    """

    speed: float
    anchor_monotonic_ns: int
    anchor_utc_ns: int

    def monotonic_ns(self) -> int:
        return self.anchor_monotonic_ns + self._elapsed_ns()

    def utc_ns(self) -> int:
        return self.anchor_utc_ns + self._elapsed_ns()

    def wait(self, seconds: float, until: threading.Event | None = None) -> bool:
        return SystemClock().wait(seconds / self.speed, until)

    def _elapsed_ns(self) -> int:
        return int((time.monotonic_ns() - self.anchor_monotonic_ns) * self.speed)


def sped_clock_from_now(speed: float) -> SpedClock:
    """A `SpedClock` that agrees with the machine's clocks at this moment."""
    return SpedClock(speed, time.monotonic_ns(), time.time_ns())


def asleep_ns() -> int:
    """Nanoseconds of suspension since the machine booted; 0 where that is not known.

    Linux's monotonic clock stands still while the machine sleeps, its boot clock does not:
    clock_gettime(2).
    """
    if not hasattr(time, "CLOCK_BOOTTIME"):
        return 0
    return time.clock_gettime_ns(time.CLOCK_BOOTTIME) - time.clock_gettime_ns(time.CLOCK_MONOTONIC)


def boot_id() -> str:
    """A name for this boot of the machine; monotonic times compare only within one.

    Linux gives one in /proc; elsewhere "unknown", which never equals another boot's.
    """
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    except OSError:
        return "unknown"
