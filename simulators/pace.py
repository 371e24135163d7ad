"""How fast a scene runs: the only file of the simulators that asks for the time."""

import time
from collections.abc import Callable
from typing import Protocol


def machine_s() -> float:
    """Seconds of the machine's own time, which wires run by; only differences mean anything."""
    return time.monotonic()


class Pace(Protocol):
    """Says how far a scene has come."""

    def t_s(self) -> float:
        """Seconds of bath time since the scene began; never goes back."""
        ...


class RealPace:
    """Runs with the machine's clock from the first time it is asked on.

    Parameters
    ----------
    speed
        Seconds of bath time per second of the machine.
    clock
        Monotonic seconds.
    """

    def __init__(self, speed: float = 1.0, clock: Callable[[], float] = time.monotonic) -> None:
        self.speed = speed
        self._clock = clock
        self._began_s: float | None = None

    def t_s(self) -> float:
        now_s = self._clock()
        if self._began_s is None:
            self._began_s = now_s
        return (now_s - self._began_s) * self.speed


class HandPace:
    """Stands still until somebody moves it: a whole scene in no time, for tests.

    Examples
    --------
    >>> pace = HandPace()
    >>> pace.move_to(12.5)
    >>> pace.t_s()
    12.5
    """

    def __init__(self) -> None:
        self._t_s = 0.0

    def move_to(self, t_s: float) -> None:
        """Say how far the scene has come; a time gone by changes nothing."""
        self._t_s = max(self._t_s, t_s)

    def t_s(self) -> float:
        return self._t_s


class Deadline:
    """So many seconds of the machine's time from its making on; None for ever."""

    def __init__(self, for_s: float | None, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._ends_s = None if for_s is None else clock() + for_s

    @property
    def left_s(self) -> float | None:
        """Seconds left, never under 0."""
        return None if self._ends_s is None else max(self._ends_s - self._clock(), 0.0)

    @property
    def is_over(self) -> bool:
        return self.left_s == 0.0
