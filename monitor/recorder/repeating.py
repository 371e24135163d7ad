"""What the recorder does every so many seconds beside the polling, each task in its own thread."""

import threading
from collections.abc import Callable

from drivers.base.clock import Clock


class Repeating:
    """Does one task every `every_s` seconds of real time, until closed.

    Each task has a thread of its own, so that a server or disk that is slow delays no other task:
    one that feeds the watchdog must not wait for one that fetches an address. A failure of ours
    ends the thread; `Mishaps` is told of every thread that ends so, and raises `part-failed`.

    Parameters
    ----------
    name
        The part's name in that alarm.
    at_once
        True does it first when started, not only after `every_s`.
    end_within_s
        A task that takes longer at the end is left to itself.
    """

    def __init__(
        self,
        name: str,
        every_s: float,
        task: Callable[[], None],
        real: Clock,
        at_once: bool = False,
        end_within_s: float = 2.0,
    ) -> None:
        self._every_s = every_s
        self._task = task
        self._real = real
        self._at_once = at_once
        self._end_within_s = end_within_s
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._work, name=name, daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def close(self) -> None:
        """End."""
        self._stop.set()
        self._thread.join(timeout=self._end_within_s)

    @property
    def is_going_on(self) -> bool:
        """Whether its thread is there."""
        return self._thread.is_alive()

    def _work(self) -> None:
        if self._at_once:
            self._task()
        while not self._real.wait(self._every_s, self._stop):
            self._task()
