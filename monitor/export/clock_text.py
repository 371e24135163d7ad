"""Nanoseconds of many rows in, their texts out: seconds of the run, UTC and local time.

What rows of one minute share is made once: an export of millions of rows spends its time elsewhere.
"""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta, tzinfo
from functools import cache
from itertools import repeat

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_SECOND_NS = 1_000_000_000
_MINUTE_NS = 60 * _SECOND_NS
_MS_NS = 1_000_000


@cache
def _seconds_of_a_minute() -> tuple[str, ...]:
    return tuple(f"{ms // 1000:02d}.{ms % 1000:03d}" for ms in range(60_000))


def seconds_text(ns: int) -> str:
    """Nanoseconds as seconds, exactly.

    Examples
    --------
    >>> seconds_text(12_345_678_901), seconds_text(-1)
    ('12.345678901', '-0.000000001')
    """
    whole, rest = divmod(abs(ns), _SECOND_NS)
    return f"{'-' if ns < 0 else ''}{whole}.{rest:09d}"


def seconds_texts(times_ns: Iterable[int]) -> list[str]:
    """The same of many times, none of them before the run began."""
    return [f"{whole}.{rest:09d}" for whole, rest in map(divmod, times_ns, repeat(_SECOND_NS))]


class ClockText:
    """Makes the texts of moments.

    Parameters
    ----------
    zone
        Of the local times; None for this machine's.
    """

    def __init__(self, zone: tzinfo | None) -> None:
        self._zone = zone
        self._minute: int | None = None
        self._utc = ""
        self._local = ""
        self._offset = ""

    def texts(self, moments_ns: Iterable[int]) -> tuple[list[str], list[str], list[str]]:
        """UTC, local time without its offset, and the offset, with milliseconds cut off."""
        utc: list[str] = []
        local: list[str] = []
        offsets: list[str] = []
        seconds = _seconds_of_a_minute()
        for minute, rest in map(divmod, moments_ns, repeat(_MINUTE_NS)):
            if minute != self._minute:
                self._make(minute)
            text = seconds[rest // _MS_NS]
            utc.append(f"{self._utc}{text}Z")
            local.append(f"{self._local}{text}")
            offsets.append(self._offset)
        return utc, local, offsets

    def _make(self, minute: int) -> None:
        # Everywhere whole minutes since 1972: tz database, Africa/Monrovia is the last.
        utc = _EPOCH + timedelta(minutes=minute)
        local = utc.astimezone(self._zone).isoformat(timespec="seconds")
        self._minute = minute
        # The date, hour and minute take 17 characters, the seconds 2, the offset the rest.
        self._utc = utc.isoformat(timespec="seconds")[:17]
        self._local, self._offset = local[:17], local[19:]
