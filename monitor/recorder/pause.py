"""Notices that the machine stood still during a wait: stopped, frozen or suspended."""

import threading
from collections.abc import Callable

from drivers.base.clock import Clock, asleep_ns

PAUSE_S = 2.0
"""A wait that ends this much too late is reported as a pause; a shorter one only misses polls."""


class PauseWatch:
    """Waits for one polling thread, and tells how much too late it came back.

    Parameters
    ----------
    clock
        The run's clock, which may be sped up `speed` times.
    real
        The machine's clock.
    asleep
        Nanoseconds for which the machine has been suspended; what the monotonic clock leaves out.
    """

    def __init__(
        self, clock: Clock, real: Clock, speed: float = 1.0, asleep: Callable[[], int] = asleep_ns
    ) -> None:
        self._clock = clock
        self._real = real
        self._speed = speed
        self._asleep = asleep
        self._asleep_ns = asleep()

    def wait(self, seconds: float, until: threading.Event) -> bool:
        """Wait `seconds` of the run's clock; True when the event ended the wait."""
        self._began_ns, self._seconds = self._real.monotonic_ns(), max(seconds, 0.0)
        return self._clock.wait(seconds, until)

    def paused_s(self, poll_s: float) -> float | None:
        """How long the machine stood still during the last wait, real seconds; None where it went
        on.

        Parameters
        ----------
        poll_s
            Of the run; fewer than two polls are no pause.
        """
        asleep_ns = self._asleep()
        slept_ns, self._asleep_ns = asleep_ns - self._asleep_ns, asleep_ns
        late_ns = self._real.monotonic_ns() - self._began_ns + slept_ns
        late_s = late_ns / 1e9 - self._seconds / self._speed
        return late_s if late_s > max(PAUSE_S, 2.0 * poll_s / self._speed) else None
