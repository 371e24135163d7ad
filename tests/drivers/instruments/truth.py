"""What an instrument truly delivers, and when each of its values was measured.

Volts are even multiples of their step and amps odd ones, so that no value of one quantity is ever
one of the other. While it is recorded both move all the time: an old value is told from a new one.
"""

import threading
import time
from bisect import bisect_left, bisect_right
from collections import defaultdict

VOLTS_RANGE, AMPS_RANGE = (3.2, 14.4), (0.6, 13.2)
VOLTS_PERIOD_S, AMPS_PERIOD_S = 7.3, 5.1
SETTINGS = ((6.12, 2.31), (8.48, 4.07))
"""At the two settings of `commission`: both in one power of ten, as it happens at a bench."""


class Truth:
    """Volts and amps of one instrument over time.

    Parameters
    ----------
    volts_step, amps_step
        What the last digit is worth.
    settings
        Volts and amps at the two settings of `commission`.
    """

    def __init__(
        self,
        volts_step: float = 0.01,
        amps_step: float = 0.01,
        settings: tuple[tuple[float, float], ...] = SETTINGS,
    ) -> None:
        self.steps = {"volts": volts_step, "amps": amps_step}
        self.settings = settings
        self.setting = 0
        self.state = "cv"
        self.moves = False
        self.is_held = False
        """Values are measured now and then, and stay until the next time."""
        self._lock = threading.Lock()
        self._times: dict[str, list[int]] = defaultdict(list)
        self._values: dict[str, list[float]] = defaultdict(list)

    def volts(self) -> float:
        """Measure the volts, now."""
        return self._measure("volts", VOLTS_RANGE, VOLTS_PERIOD_S, 0)

    def amps(self) -> float:
        """Measure the amps, now."""
        return self._measure("amps", AMPS_RANGE, AMPS_PERIOD_S, 1)

    def shown(self, quantity: str) -> str:
        """What the panel shows, with all its digits."""
        step = self.steps[quantity]
        digits = max(0, len(f"{step:.6f}".rstrip("0").partition(".")[2]))
        value = self.volts() if quantity == "volts" else self.amps()
        return f"{value:.{digits}f}"

    def fits(self, quantity: str, value: float, from_ns: int, to_ns: int) -> bool:
        """Whether a value was measured, or still held, within a time."""
        with self._lock:
            times, values = self._times[quantity], self._values[quantity]
            first, last = bisect_left(times, from_ns), bisect_right(times, to_ns)
            if self.is_held:
                first = max(first - 1, 0)
            own = values[first:last]
        return any(abs(value - each) < 0.3 * self.steps[quantity] for each in own)

    def newest_time(self, quantity: str, value: float, to_ns: int) -> int | None:
        """When a value was last measured before a time; None for never: it was made up."""
        with self._lock:
            pairs = zip(self._times[quantity], self._values[quantity], strict=True)
            near = [
                t_ns
                for t_ns, each in pairs
                if t_ns <= to_ns and abs(value - each) < 0.3 * self.steps[quantity]
            ]
        return max(near, default=None)

    def _measure(
        self, quantity: str, limits: tuple[float, float], period_s: float, odd: int
    ) -> float:
        with self._lock:
            now_ns = time.monotonic_ns()
            value = self.settings[self.setting][odd]
            if self.moves:
                phase = (now_ns / 1e9 / period_s + 0.3 * odd) % 1.0
                share = 2 * phase if phase < 0.5 else 2 - 2 * phase
                value = limits[0] + share * (limits[1] - limits[0])
            step = self.steps[quantity]
            value = (2 * round((value / step - odd) / 2) + odd) * step
            if self.state == "output-off":
                value = odd * step
            self._times[quantity].append(now_ns)
            self._values[quantity].append(value)
            return value
