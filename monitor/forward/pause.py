"""Failures in, how long to leave the server alone out."""

import zlib

from monitor.forward.reply import FAILURES_OF_THE_PLACE, Reply

FIRST_S = 1.0
LONGEST_S = 60.0
SLOW_S = 60.0
"""Between tries where only a person can cure the failure."""


class Pause:
    """Doubles from failure to failure, and is a little different for each bench.

    Many benches that lose one server do not all come back to it in the same second.

    Parameters
    ----------
    name
        Of the bench; decides its share of the difference, up to a quarter.

    Examples
    --------
    >>> from monitor.forward.reply import Meaning
    >>> pause = Pause("bench-1")
    >>> first, second = [pause.after(Reply(Meaning.BUSY, 503)) for _ in range(2)]
    >>> second / first
    2.0
    """

    def __init__(self, name: str) -> None:
        self._share = 1 + zlib.crc32(name.encode()) / 2**32 / 4
        self._failures = 0

    def over(self) -> None:
        """Something was taken."""
        self._failures = 0

    def after(self, reply: Reply) -> float:
        """Seconds to wait after a failure; never less than the server asks for."""
        self._failures += 1
        wait_s = min(FIRST_S * 2.0 ** min(self._failures - 1, 10), LONGEST_S)
        if reply.meaning in FAILURES_OF_THE_PLACE:
            wait_s = SLOW_S
        return max(wait_s * self._share, reply.retry_after_s or 0.0)
