"""The wait until a lost link is tried again in, a status of the run out: screens count it down."""

from collections.abc import Callable

from drivers.base.clock import Clock
from monitor.model.event import NEXT_TRY, Status


def next_try_told(
    note: Callable[[int, Status], None], run: int, clock: Clock, clock_speed: float
) -> Callable[[float], None]:
    """What takes the wait, seconds of real time, and keeps the try's time by the run's clock.

    Parameters
    ----------
    note
        Takes a run's status; called from the polling thread.
    clock, clock_speed
        The run's clock, and how much faster than the machine's it goes.
    """

    def tell(wait_s: float) -> None:
        due_ns = clock.utc_ns() + round(wait_s * clock_speed * 1e9)
        note(run, Status(NEXT_TRY, due_ns, "the link is tried again at this time", True))

    return tell
