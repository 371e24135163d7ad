"""Work that must hold nobody up: a bounded queue with a thread of its own."""

import threading
from collections import deque
from collections.abc import Callable
from typing import Generic, TypeVar

T = TypeVar("T")

STILL_S = 1.0
"""Seconds without one finished item after which the end waits no longer."""
END_WITHIN_S = 5.0
"""The longest wait at the end, however much is left."""


class Aside(Generic[T]):
    """Hands items to somebody who may be slow, stuck or gone; who puts them in never waits.

    Parameters
    ----------
    name
        Of the thread.
    take
        Called in the thread with each item, in order. It handles its own failures.
    left_out
        Called in the thread with the number of items that the full queue has dropped, the oldest
        first; before the next item that is still there.
    most
        Items that wait at the most.

    Examples
    --------
    >>> heard: list[str] = []
    >>> aside = Aside("example", heard.append, lambda count: heard.append(f"{count} left out"), 2)
    >>> for word in ("a", "b", "c"):
    ...     aside.put(word)
    >>> aside.start()
    >>> aside.close(), heard
    (0, ['1 left out', 'b', 'c'])
    """

    def __init__(
        self, name: str, take: Callable[[T], None], left_out: Callable[[int], None], most: int
    ) -> None:
        self._take = take
        self._left_out = left_out
        self._most = most
        self._waiting: deque[T] = deque()
        self._dropped = 0
        self._finished = 0
        self._is_busy = False
        self._ends = False
        self._changed = threading.Condition()
        self._thread = threading.Thread(target=self._work, name=name, daemon=True)

    def start(self) -> None:
        """Begin to hand over."""
        self._thread.start()

    def put(self, item: T) -> None:
        """Take one item; waits for nothing but a short lock."""
        with self._changed:
            if len(self._waiting) >= self._most:
                self._waiting.popleft()
                self._dropped += 1
            self._waiting.append(item)
            self._changed.notify_all()

    def close(self, still_s: float = STILL_S, within_s: float = END_WITHIN_S) -> int:
        """Let the rest be handed over, as long as it goes on; the number of items left."""
        with self._changed:
            self._ends = True
            self._changed.notify_all()
            for _ in range(max(round(within_s / still_s), 1)):
                before = self._finished
                if self._changed.wait_for(self._is_idle, still_s) or self._finished == before:
                    break
            return len(self._waiting) + self._is_busy

    def _is_idle(self) -> bool:
        return not (self._waiting or self._is_busy)

    def _work(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(lambda: bool(self._waiting) or self._ends)
                if not self._waiting:
                    return
                item, dropped = self._waiting.popleft(), self._dropped
                self._dropped, self._is_busy = 0, True
            if dropped:
                self._left_out(dropped)
            self._take(item)
            with self._changed:
                self._finished += 1
                self._is_busy = False
                self._changed.notify_all()
