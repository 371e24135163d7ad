"""Calls that may block longer than they were told to: each is waited for until its deadline only.

They run one after the other in a thread of their own. A thread that hangs is left behind, and no
second one is made before it comes back.
"""

import queue
import threading
from collections.abc import Callable
from typing import TypeVar, cast

from drivers.base.clock import Clock
from drivers.errors import PortMissing, Reopen
from drivers.link.link import SLICE_S

T = TypeVar("T")
GRACE_S = 0.1
"""A call that keeps its deadline itself may be this late."""


class _Call:
    def __init__(self, function: Callable[[], object]) -> None:
        self.function = function
        self.done = threading.Event()
        self.value: object = None
        self.failure: Exception | None = None

    def run(self) -> None:
        try:
            self.value = self.function()
        except Exception as error:  # handed to whoever waits
            self.failure = error
        self.done.set()


class BlockingCalls:
    """Runs calls of one device.

    Parameters
    ----------
    place
        Where it leads, for messages.
    """

    def __init__(self, place: str, clock: Clock) -> None:
        self.place = place
        self.clock = clock
        self._queue: queue.SimpleQueue[_Call | None] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None
        self._hanging: _Call | None = None

    def begin(self) -> None:
        """Make ready for calls.

        Raises
        ------
        PortMissing
            Where an earlier call still hangs.
        """
        if self._hanging is not None and not self._hanging.done.is_set():
            raise PortMissing(
                f"{self.place}: an earlier call still hangs: switch the instrument off and on, or "
                "pull its cable"
            )
        self._hanging = None
        if self._thread is None:
            self._queue = queue.SimpleQueue()
            self._thread = threading.Thread(
                target=_serve, args=(self._queue,), name="calls", daemon=True
            )
            self._thread.start()

    def run(self, function: Callable[[], T], deadline_ns: int) -> T:
        """What the function returns or raises.

        Raises
        ------
        Reopen
            Where it has not come back by the deadline: its thread is left alone from then on.
        """
        if self._thread is None:
            raise Reopen(f"{self.place}: it is not open")
        call = _Call(function)
        self._queue.put(call)
        deadline_ns += int(GRACE_S * 1e9)
        while not call.done.wait(SLICE_S):
            if self.clock.monotonic_ns() >= deadline_ns:
                self._hanging, self._thread = call, None
                self._queue.put(None)
                raise Reopen(f"{self.place}: it does not come back: is it stuck?")
        if call.failure is not None:
            raise call.failure
        return cast(T, call.value)

    def end(self) -> None:
        """Let the thread end."""
        if self._thread is not None:
            self._queue.put(None)
            self._thread = None


def _serve(calls: "queue.SimpleQueue[_Call | None]") -> None:
    while (call := calls.get()) is not None:
        call.run()
